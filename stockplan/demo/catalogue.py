"""Filaments, SKUs and items of the demo plant."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from stdnum import ean

from stockplan.demo.colours import COLOURS, RETIRED
from stockplan.demo.materials import DIAMETERS, FAMILIES, MATERIALS, N_MADE_TO_ORDER, SIZE_TIERS, SIZES
from stockplan.demo.timeline import Timeline

# 952 is kept by GS1 for demonstrations and examples: no firm's goods can bear these numbers.
GTIN_STEM = "9526413"
# Launched within the history: filament code -> weeks before the last day.
LAUNCHES = {
    "TPU-GAS-285": 78,
    "TPU-CHF-285": 78,
    "PLX-WAS-175": 44,
    "PETG-VIC-175": 37,
    "PETG-LIF-175": 37,
    "ASA-BRM-175": 26,
    "PLA-SKB-175": 15,
    "PLA-BEV-175": 5,
}
RETIRED_WEEKS_AGO = 21
ON_SALE_WEEKS = 310
SIZE_ORDER = {size.code: rank for rank, size in enumerate(SIZES)}


@dataclass(frozen=True)
class Catalogue:
    """What the plant sells, with the popularity that drives its demand.

    Attributes
    ----------
    filaments
        One row a filament: code, material, colour, diameter, popularity (share of order lines).
    skus
        One row a SKU in the columns of the plant file.
    weight
        Share of the order lines by SKU, in the order of `skus`; sums to 1.
    """

    filaments: pd.DataFrame
    skus: pd.DataFrame
    weight: np.ndarray


def build_catalogue(*, rng: np.random.Generator, timeline: Timeline) -> Catalogue:
    """Draw popularities, rank the filaments by them, and offer each in the sizes of its rank."""
    filaments = _filaments(rng)
    offered = _offered_sizes(filaments)
    weight = (offered["popularity"] * offered["size_share"]).to_numpy()
    offered["is_stocked"] = _is_stocked(offered.assign(weight=weight))
    return Catalogue(filaments=filaments, skus=_sku_rows(offered, timeline=timeline), weight=weight / weight.sum())


def _filaments(rng: np.random.Generator) -> pd.DataFrame:
    rows = []
    for family in FAMILIES:
        # Sales fall off with the rank of the colour, a little unevenly: a few colours carry most of the trade.
        pull = (np.arange(family.n_colours) + 1.6) ** -0.75 * np.exp(rng.normal(0.0, 0.32, family.n_colours))
        for colour, share in zip(COLOURS, pull / pull.sum() * family.line_share, strict=False):
            code = f"{family.material}-{colour.code}-{family.suffix}"
            rows.append((code, family.material, colour.code, family.nominal_mm, share))
    return pd.DataFrame(rows, columns=["code", "material", "colour", "diameter", "popularity"])


def _offered_sizes(filaments: pd.DataFrame) -> pd.DataFrame:
    ranked = filaments.sort_values("popularity", ascending=False, ignore_index=True)
    tiers = [sizes for count, sizes in SIZE_TIERS for _ in range(count)]
    pairs = pd.DataFrame(
        [(code, size) for code, sizes in zip(ranked["code"], tiers, strict=True) for size in sizes],
        columns=["filament", "spool_size"],
    )
    rows = pairs.merge(filaments, left_on="filament", right_on="code").drop(columns="code")
    rows = rows[_is_wound(rows)]
    share = rows["spool_size"].map({size.code: size.line_share for size in SIZES})
    rows["size_share"] = share / share.groupby(rows["filament"]).transform("sum")
    rows["size_rank"] = rows["spool_size"].map(SIZE_ORDER)
    return rows.sort_values(["filament", "size_rank"], ignore_index=True)


def _is_wound(rows: pd.DataFrame) -> pd.Series:
    """Thick strand is not wound on the smallest spool, costly resin not on the two largest."""
    too_thick = (rows["diameter"] == "2.85") & (rows["spool_size"] == "S250")
    too_dear = rows["material"].isin(["TPU", "PA"]) & rows["spool_size"].isin(["S5000", "S10000"])
    return ~(too_thick | too_dear)


def _is_stocked(rows: pd.DataFrame) -> pd.Series:
    large = rows[rows["spool_size"].isin(["S5000", "S10000"])]
    return ~rows.index.to_series().isin(large.nsmallest(N_MADE_TO_ORDER, "weight").index)


def _sku_rows(rows: pd.DataFrame, *, timeline: Timeline) -> pd.DataFrame:
    net_g = rows["spool_size"].map({size.code: size.net_g for size in SIZES})
    colour_name = rows["colour"].map({colour.code: colour.name for colour in COLOURS})
    material_name = rows["material"].map({material.code: material.name for material in MATERIALS})
    net_kg = (net_g / 1000).map("{:g} kg".format)
    first_day = rows["filament"].map({code: timeline.weeks_ago(weeks).isoformat() for code, weeks in LAUNCHES.items()})
    last_day = timeline.day_before_weeks_ago(RETIRED_WEEKS_AGO).isoformat()
    return pd.DataFrame(
        {
            "code": rows["filament"] + "-" + net_g.map("{:05d}".format),
            "name": material_name + " " + colour_name + " " + rows["diameter"] + " mm, " + net_kg,
            "gtin": [_gtin(number) for number in range(1, len(rows) + 1)],
            "filament": rows["filament"],
            "spool_size": rows["spool_size"],
            "is_stocked": rows["is_stocked"].map({True: "yes", False: "no"}),
            "value": _values(rows, net_g=net_g),
            "active_from": first_day.fillna(timeline.weeks_ago(ON_SALE_WEEKS).isoformat()),
            "active_to": (rows["colour"] == RETIRED).map({True: last_day, False: ""}),
            "shelf_place": [f"{'ABCDEFGH'[n // 60]}{n % 60 // 6 + 1:02d}-{n % 6 + 1}" for n in range(len(rows))],
        }
    )


def _gtin(number: int) -> str:
    stem = f"{GTIN_STEM}{number:05d}"
    return stem + ean.calc_check_digit(stem)


def _values(rows: pd.DataFrame, *, net_g: pd.Series) -> pd.Series:
    """Resin, concentrate and line time by the kilogram, and what winding and the spool add to each piece."""
    per_kg = rows["material"].map({material.code: material.value_per_kg for material in MATERIALS})
    return (per_kg * net_g / 1000 + 1.15 + 0.22 * net_g / 1000).map("{:.2f}".format)


def filament_rows(catalogue: Catalogue) -> pd.DataFrame:
    """Filaments in the columns of the plant file."""
    return catalogue.filaments[["code", "material", "colour", "diameter"]]


def material_rows() -> pd.DataFrame:
    """Materials in the columns of the plant file."""
    return pd.DataFrame(
        {
            "code": material.code,
            "name": material.name,
            "density_g_cm3": f"{material.density_g_cm3:.3f}",
            "resin_item": f"RESIN-{material.code}",
            "resin_dry_min_c": material.resin_dry_c[0],
            "resin_dry_max_c": material.resin_dry_c[1],
            "resin_dry_hours": f"{material.resin_dry_hours:.2f}",
            "dried_keeps_hours": f"{material.dried_keeps_hours:.2f}",
            "spool_dry_min_c": material.spool_dry_c[0],
            "spool_dry_max_c": material.spool_dry_c[1],
            "spool_dry_hours": f"{material.spool_dry_hours:.2f}",
        }
        for material in MATERIALS
    )


def diameter_rows() -> pd.DataFrame:
    """Diameters in the columns of the plant file."""
    return pd.DataFrame(DIAMETERS, columns=["nominal_mm", "tolerance_mm"])


def spool_size_rows() -> pd.DataFrame:
    """Spool sizes in the columns of the plant file."""
    return pd.DataFrame(
        {
            "code": size.code,
            "net_g": size.net_g,
            "give_away_g": size.give_away_g,
            "tare_g": size.tare_g,
            "spool_part": f"SPOOL-{size.net_g}",
            "box_item": size.box,
            "desiccant_item": "DESICCANT-5G",
            "max_temp_c": size.max_temp_c,
            "oven_places": f"{size.oven_places:.2f}",
        }
        for size in SIZES
    )


def item_rows() -> pd.DataFrame:
    """Materials and parts that are bought, in the columns of the plant file."""
    rows = [(f"RESIN-{m.code}", f"Resin {m.name}", "resin", "kg", m.lead_time_days) for m in MATERIALS]
    rows += [
        (f"CC-{colour.code}", f"Concentrate {colour.name}", "concentrate", "kg", 10 + 2 * (rank % 4))
        for rank, colour in enumerate(COLOURS)
        if colour.let_down_share
    ]
    rows += [(f"SPOOL-{s.net_g}", f"Empty spool {s.net_g / 1000:g} kg", "spool_part", "piece", 18) for s in SIZES]
    rows += [(box, f"Carton size {box[-1]}", "box", "piece", 7) for box in sorted({size.box for size in SIZES})]
    rows += [("DESICCANT-5G", "Desiccant bag 5 g", "desiccant", "piece", 7)]
    return pd.DataFrame(rows, columns=["code", "name", "kind", "unit", "lead_time_days"])
