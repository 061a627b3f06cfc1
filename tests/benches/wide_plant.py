"""Five demo plants under one roof: 1,990 SKUs on twenty lines with two years of orders, as plant files."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd

from inventory.plant_files.canonical import write_canonical
from inventory.plant_files.schema import FILE_BY_NAME
from stockplan.demo.generate import write_demo_plant

COPIES = 5
# By file, the columns that name something of which every copy has its own.
OWN = {
    "colours.csv": ["code", "name", "concentrate_item"],
    "filaments.csv": ["code", "colour"],
    "skus.csv": ["code", "name", "filament"],
    "lines.csv": ["code", "name", "holds"],
    "line_speeds.csv": ["line", "filament"],
    "changeovers.csv": ["line", "from_filament", "to_filament"],
    "dryers.csv": ["code", "name"],
    "hoppers.csv": ["code", "dryer"],
    "ovens.csv": ["code", "name"],
    "shifts.csv": ["line"],
    "orders.csv": ["reference", "sku"],
}
# What is there once, but must do for all copies.
SHARED = {"crews.csv": "size", "work_days.csv": "pack_spools"}


def write_wide_plant(directory: Path, *, last_day: date) -> None:
    """Write the plant files into a new folder."""
    write_demo_plant(directory, last_day=last_day)
    tables = {path.name: pd.read_csv(path, dtype=str, keep_default_na=False) for path in directory.glob("*.csv")}
    for name, columns in OWN.items():
        tables[name] = _copies(tables[name], columns)
    for name, column in SHARED.items():
        tables[name][column] = [str(COPIES * int(cell)) if cell else "" for cell in tables[name][column]]
    # A concentrate colours one colour; resins and parts are shared.
    items, opening = tables["items.csv"], tables["opening_stock.csv"]
    is_own = items["kind"] == "concentrate"
    own_codes = {*items.loc[is_own, "code"], *tables["skus.csv"]["code"]}
    tables["items.csv"] = pd.concat([items[~is_own], _copies(items[is_own], ["code", "name"])])
    is_own = opening["item"].isin(own_codes)
    opening.loc[~is_own, "quantity"] = [f"{COPIES * float(cell):g}" for cell in opening.loc[~is_own, "quantity"]]
    tables["opening_stock.csv"] = pd.concat([opening[~is_own], _copies(opening[is_own], ["item", "lot"])])
    for name, table in tables.items():
        table.to_csv(directory / name, index=False, lineterminator="\n", encoding="utf-8")
        write_canonical(directory / name, FILE_BY_NAME[name])


def _copies(table: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    """Return the rows of all copies; the first is as it was, the others carry their number in those columns."""
    tables = [table]
    for number in range(2, COPIES + 1):
        copy = table.copy()
        for column in columns:
            copy[column] = [f"{cell}{number}" if cell else "" for cell in copy[column]]
        # A GTIN names one article.
        if "gtin" in copy:
            copy["gtin"] = ""
        tables.append(copy)
    return pd.concat(tables)
