"""Write the demo plant as a folder of plant files: the same bytes for the same seed and last day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from inventory.plant_files.canonical import write_canonical
from inventory.plant_files.schema import FILE_BY_NAME
from inventory.rules.colour import lightness_of_hex
from stockplan.demo import catalogue as goods
from stockplan.demo import site
from stockplan.demo.bottlenecks import capacity_report
from stockplan.demo.colours import COLOURS
from stockplan.demo.opening import opening_rows
from stockplan.demo.orders import OrderBook, build_order_book
from stockplan.demo.timeline import Timeline

DEFAULT_SEED = 20270214
DEFAULT_LAST_DAY = date(2027, 2, 14)


@dataclass(frozen=True)
class DemoPlant:
    """The demo before it is written: tables by file name, and what they were made from."""

    timeline: Timeline
    catalogue: goods.Catalogue
    order_book: OrderBook
    tables: dict[str, pd.DataFrame]

    @property
    def capacity_report(self) -> str:
        """How busy lines, ovens and dryers are."""
        return capacity_report(self.catalogue, lines=self.order_book.lines, timeline=self.timeline)


def build_demo_plant(*, seed: int = DEFAULT_SEED, last_day: date = DEFAULT_LAST_DAY) -> DemoPlant:
    """Invent the plant. Catalogue, orders and stock draw from streams of their own, so that one may change alone."""
    for_catalogue, for_orders, for_stock = (
        np.random.default_rng(child) for child in np.random.SeedSequence(seed).spawn(3)
    )
    timeline = Timeline(last_day=last_day)
    catalogue = goods.build_catalogue(rng=for_catalogue, timeline=timeline)
    book = build_order_book(catalogue=catalogue, timeline=timeline, rng=for_orders)
    tables = {
        **_goods_tables(catalogue),
        **_site_tables(catalogue, timeline=timeline),
        "opening_stock.csv": opening_rows(catalogue, lines=book.lines, timeline=timeline, rng=for_stock),
        "orders.csv": book.rows,
    }
    return DemoPlant(timeline=timeline, catalogue=catalogue, order_book=book, tables=tables)


def write_demo_plant(directory: Path, *, seed: int = DEFAULT_SEED, last_day: date = DEFAULT_LAST_DAY) -> DemoPlant:
    """Write the demo plant into `directory`, which is made where it does not exist.

    Parameters
    ----------
    directory
        Folder of the plant files; it must hold no CSV file yet.
    seed
        Any whole number from 0 on; the default is the plant that the project guide speaks of.
    last_day
        Last local day on which orders arrived; the history is the 104 weeks that end with it.

    Raises
    ------
    FileExistsError
        If the folder holds CSV files already: two plants must not be mixed.
    """
    if directory.exists() and (present := sorted(path.name for path in directory.glob("*.csv"))):
        raise FileExistsError(f"{directory} holds {present[0]} already. Name an empty or a new folder.")
    plant = build_demo_plant(seed=seed, last_day=last_day)
    directory.mkdir(parents=True, exist_ok=True)
    for name, table in plant.tables.items():
        table.to_csv(directory / name, index=False, lineterminator="\n", encoding="utf-8")
        write_canonical(directory / name, FILE_BY_NAME[name])
    return plant


def _goods_tables(catalogue: goods.Catalogue) -> dict[str, pd.DataFrame]:
    return {
        "items.csv": goods.item_rows(),
        "materials.csv": goods.material_rows(),
        "colours.csv": _colour_rows(),
        "diameters.csv": goods.diameter_rows(),
        "spool_sizes.csv": goods.spool_size_rows(),
        "filaments.csv": goods.filament_rows(catalogue),
        "skus.csv": catalogue.skus,
    }


def _colour_rows() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "code": colour.code,
            "name": colour.name,
            "hex": colour.hex,
            "lab_l": f"{lightness_of_hex(colour.hex):.2f}",
            "concentrate_item": f"CC-{colour.code}" if colour.let_down_share else "",
            "let_down_share": f"{colour.let_down_share:.4f}",
        }
        for colour in COLOURS
    )


def _site_tables(catalogue: goods.Catalogue, *, timeline: Timeline) -> dict[str, pd.DataFrame]:
    return {
        "parameters.csv": site.parameter_rows(),
        "work_days.csv": site.work_day_rows(),
        "closures.csv": site.closure_rows(timeline),
        "lines.csv": site.line_rows(),
        "line_speeds.csv": site.line_speed_rows(catalogue),
        "changeovers.csv": site.changeover_rows(catalogue),
        "dryers.csv": site.dryer_rows(),
        "hoppers.csv": site.hopper_rows(timeline),
        "ovens.csv": site.oven_rows(),
        "carts.csv": site.cart_rows(),
        "shifts.csv": site.shift_rows(),
        "crews.csv": site.crew_rows(),
        "channels.csv": site.channel_rows(),
    }
