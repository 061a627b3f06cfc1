"""Which steps a changeover has, by what differs between what the line holds and what it is to make."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

RESIN, CONCENTRATE, DRYING = "resin", "concentrate", "drying"
DATA_SHEETS, PURGE, LIGHTER, SETTING, DIAMETER = "data_sheets", "purge", "lighter", "setting", "diameter"


@dataclass(frozen=True)
class Made:
    """What of a filament decides on the steps; `lab_l` is the L* of its colour, larger is lighter."""

    material: str
    colour: str
    lab_l: Decimal
    diameter_mm: Decimal


def steps_of(held: Made | None, made: Made, *, has_concentrate: bool, is_dried: bool) -> tuple[str, ...]:
    """Return the steps in their order. The steps are common practice, no source.

    Parameters
    ----------
    held
        What the line holds; None: nobody knows, so the steps are those of whatever it may be.
    made
        What it is to make.
    has_concentrate
        Whether colour concentrate is dosed.
    is_dried
        Whether the resin has hours of drying.

    Examples
    --------
    >>> black = Made("PLA", "BLACK", Decimal(25), Decimal("1.75"))
    >>> white = Made("PLA", "WHITE", Decimal(96), Decimal("1.75"))
    >>> steps_of(black, white, has_concentrate=True, is_dried=True)
    ('resin', 'concentrate', 'drying', 'purge', 'lighter', 'diameter')
    >>> steps_of(white, white, has_concentrate=True, is_dried=True)
    ('resin', 'concentrate', 'drying', 'diameter')
    """
    is_other_material = held is None or held.material != made.material
    is_other_colour = held is None or held.colour != made.colour
    needed = {
        RESIN: True,
        CONCENTRATE: has_concentrate,
        DRYING: is_dried,
        DATA_SHEETS: is_other_material,
        PURGE: is_other_material or is_other_colour,
        LIGHTER: is_other_colour and (held is None or held.lab_l < made.lab_l),
        SETTING: held is None or held.diameter_mm != made.diameter_mm,
        DIAMETER: True,
    }
    return tuple(step for step, is_needed in needed.items() if is_needed)
