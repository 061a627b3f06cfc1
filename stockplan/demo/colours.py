"""Invented colours, in order of how well they sell. No firm that the authors know of sells a filament so named."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class InventedColour:
    """One colour: its code, its name, its sRGB value and the share of concentrate it needs in the melt."""

    code: str
    name: str
    hex: str
    let_down_share: Decimal


def _colour(code: str, name: str, hex_value: str, let_down: str) -> InventedColour:
    return InventedColour(code=code, name=name, hex=hex_value, let_down_share=Decimal(let_down))


UNDYED = "NAT"
RETIRED = "TUR"
COLOURS: tuple[InventedColour, ...] = (
    _colour("GAS", "Gasket Black", "#17181A", "0.018"),
    _colour("CHF", "Chalk Ferret", "#F5F4EF", "0.035"),
    _colour("TKG", "Tin Kettle Grey", "#9A9FA3", "0.024"),
    _colour(UNDYED, "Undyed", "#EDE8DA", "0"),
    _colour("FER", "Ferryman Blue", "#1F4E8C", "0.022"),
    _colour("EMB", "Ember Ladder", "#D8481E", "0.027"),
    _colour("TOL", "Tollbooth Yellow", "#F2C21B", "0.033"),
    _colour("SLP", "Slate Postman", "#4E5760", "0.021"),
    _colour("COB", "Cobbler Moss", "#6F8A3A", "0.026"),
    _colour("BRM", "Brickyard Monday", "#A5412F", "0.025"),
    _colour("INK", "Inkwell Goose", "#252C4A", "0.019"),
    _colour("SAF", "Saffron Pulley", "#E8971E", "0.031"),
    _colour("GUL", "Gull Apron", "#DADDDC", "0.034"),
    _colour("HAT", "Harbour Thimble", "#3E7FB1", "0.023"),
    _colour(RETIRED, "Turnip Dusk", "#8A6F93", "0.026"),
    _colour("WAS", "Walnut Sleigh", "#5C4030", "0.022"),
    _colour("OXL", "Oxbow Lantern Teal", "#1F7A78", "0.024"),
    _colour("RHT", "Rhubarb Tram", "#C94F6D", "0.028"),
    _colour("VIC", "Violet Cartwheel", "#7A53A6", "0.025"),
    _colour("LIF", "Limewash Frog", "#A8CF3F", "0.030"),
    _colour("SKB", "Skylark Bucket", "#8FC4E8", "0.032"),
    _colour("MOL", "Moth Lantern", "#E9D9A6", "0.033"),
    _colour("COP", "Copper Biscuit", "#B06A3B", "0.027"),
    _colour("SPS", "Sprat Ledger Silver", "#B9BEC2", "0.036"),
    _colour("APS", "Apricot Sermon", "#F2A26B", "0.031"),
    _colour("KEL", "Kelp Ledger", "#3B4A2E", "0.021"),
    _colour("RAC", "Radish Choir", "#E36A8E", "0.029"),
    _colour("PEN", "Pewter Nettle", "#6E7568", "0.023"),
    _colour("PLT", "Plum Turnstile", "#5A2A54", "0.022"),
    _colour("CUB", "Custard Bell", "#F4DE8B", "0.034"),
    _colour("FOP", "Fog Parcel", "#C3C9CE", "0.034"),
    _colour("MAJ", "Marrow Jug", "#5E7F3C", "0.026"),
    _colour("CRG", "Creamery Gate", "#EFE3C4", "0.035"),
    _colour("BEV", "Beetle Varnish", "#123F36", "0.020"),
)
