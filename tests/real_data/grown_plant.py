"""The demo plant grown to the demand of the real orders: a shop of groceries sells more than a small plant winds.

All that limits work (speed and extruder of the lines, hoppers, oven places, spools packed) and all materials are
multiplied by one factor: kilograms a week of the real orders over those of the demo. SKUs are on sale throughout, and
the plant closes on public holidays only, as a shop that sells on every day would want. The shelf of the k-th SKU covers
(k mod 10) + 1 ship days of its mean demand, so that some are short and some are not.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from stockplan.demo.capacity import weekly_kg
from stockplan.demo.generate import DemoPlant, build_demo_plant
from tests.real_data.mapping import ranked_skus

SHIP_DAYS_PER_WEEK = 5
COVERS = 10


def plain_plant(*, last_day: date) -> DemoPlant:
    """The demo plant whose calendar covers the real orders."""
    return build_demo_plant(last_day=last_day)


def skus_by_rank(plant: DemoPlant) -> list[str]:
    """SKUs in the order of rule 3."""
    return ranked_skus(plant.tables["skus.csv"], net_g=_net_g(plant))


def write_grown_plant(plant: DemoPlant, *, orders: pd.DataFrame, weeks: float, directory: Path) -> float:
    """Write the files of the grown plant, without orders of its own; return the factor by which it grew."""
    sizes = plant.tables["skus.csv"].set_index("code")["spool_size"].map(_net_g(plant)) / 1000
    factor = float((orders["quantity"] * orders["sku"].map(sizes)).sum() / weeks) / _demo_kg(plant)
    tables = {**plant.tables, **_grown_tables(plant, factor=factor)}
    tables["opening_stock.csv"] = _opening(plant, orders=orders, weeks=weeks, factor=factor)
    tables["skus.csv"] = plant.tables["skus.csv"].assign(active_from="2010-01-01", active_to="")
    tables["closures.csv"] = plant.tables["closures.csv"].iloc[:0]
    del tables["orders.csv"]
    directory.mkdir(parents=True)
    for name, table in tables.items():
        table.to_csv(directory / name, index=False, lineterminator="\n")
    return factor


def _net_g(plant: DemoPlant) -> pd.Series:
    return plant.tables["spool_sizes.csv"].set_index("code")["net_g"]


def _demo_kg(plant: DemoPlant) -> float:
    return float(weekly_kg(plant.catalogue, lines=plant.order_book.lines).sum())


def _grown_tables(plant: DemoPlant, *, factor: float) -> dict[str, pd.DataFrame]:
    grown = {
        ("line_speeds.csv", "speed_m_min"): "{:.2f}",
        ("lines.csv", "extruder_kg_h"): "{:.2f}",
        ("hoppers.csv", "capacity_kg"): "{:.2f}",
        ("ovens.csv", "places"): "{:.0f}",
        ("work_days.csv", "pack_spools"): "{:.0f}",
    }
    return {
        name: plant.tables[name].assign(
            **{column: (plant.tables[name][column].astype(float) * factor).map(form.format)}
        )
        for (name, column), form in grown.items()
    }


def _opening(plant: DemoPlant, *, orders: pd.DataFrame, weeks: float, factor: float) -> pd.DataFrame:
    opening = plant.tables["opening_stock.csv"]
    store = opening[opening["place"] != "shelf"]
    store = store.assign(quantity=np.ceil(store["quantity"].astype(float) * factor).astype(int))
    skus = skus_by_rank(plant)
    per_day = orders.groupby("sku")["quantity"].sum().reindex(skus, fill_value=0) / (weeks * SHIP_DAYS_PER_WEEK)
    spools = np.floor(per_day.to_numpy() * (np.arange(len(skus)) % COVERS + 1)).astype(int)
    shelf = pd.DataFrame({"item": skus, "place": "shelf", "supplier_lot": "", "quantity": spools})
    shelf = shelf[shelf["quantity"] > 0].assign(lot=lambda table: "OPEN-" + table["item"])
    return pd.concat([shelf, store], ignore_index=True)[list(opening.columns)]
