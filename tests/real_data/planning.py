"""Real orders through the commands and services that a user has: load, import, forecast, targets, make list."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from io import StringIO
from pathlib import Path

import pandas as pd
from django.core.management import call_command

from stockplan.planner.models import MakeList
from stockplan.planner.services.make_lists import compute_make_list
from tests.real_data.grown_plant import plain_plant, skus_by_rank, write_grown_plant
from tests.real_data.mapping import order_table, regular_products, sound_lines, source_lines, write_order_table

CHANNEL = "HERON"
FIRST_DAY = date(2017, 1, 1)
ALL_WEEKS = 52
PLAN_DAYS = 5


@dataclass(frozen=True)
class RealOrders:
    """The orders of some first weeks of the source, and a plant grown to them, as files.

    Attributes
    ----------
    as_of
        Morning of the first ship day after those weeks.
    growth
        Factor by which the demo plant grew.
    """

    plant_dir: Path
    order_file: Path
    table: pd.DataFrame
    as_of: datetime
    growth: float


@dataclass
class Stopwatch:
    """Seconds by step."""

    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def step(self, name: str) -> Iterator[None]:
        started = time.perf_counter()
        yield
        self.seconds[name] = time.perf_counter() - started


def write_real_orders(directory: Path, *, weeks: int = ALL_WEEKS, every_basket: int = 1) -> RealOrders:
    """Write plant and order table of the first weeks; `every_basket` 4 takes the baskets whose number 4 divides.

    Products are ranked over all baskets of the whole year, however many are used.
    """
    transactions, products = source_lines()
    lines = sound_lines(transactions, products=products)
    last_day = FIRST_DAY + timedelta(days=7 * weeks - 1)
    plant = plain_plant(last_day=last_day)
    in_time = lines["transaction_timestamp"] < pd.Timestamp(last_day) + pd.Timedelta(days=1)
    used = lines[in_time & (lines["basket_id"] % every_basket == 0)]
    table = order_table(used, products=regular_products(lines), skus=skus_by_rank(plant))
    write_order_table(table, directory / "orders.csv")
    growth = write_grown_plant(plant, orders=table, weeks=weeks, directory=directory / "plant")
    return RealOrders(
        plant_dir=directory / "plant",
        order_file=directory / "orders.csv",
        table=table,
        as_of=plant.timeline.as_of,
        growth=growth,
    )


def import_real_orders(real: RealOrders) -> str:
    """Load the plant and import all order lines by the commands of a user; return what the import said."""
    as_of = real.as_of.isoformat()
    call_command("load_plant", str(real.plant_dir), "--as-of", as_of, stdout=StringIO(), stderr=StringIO())
    said = StringIO()
    options = ["--channel", CHANNEL, "--as-of", as_of, "--unknown-is-shipped"]
    call_command("import_orders", str(real.order_file), *options, stdout=said, stderr=StringIO())
    return said.getvalue()


def plan(real: RealOrders) -> MakeList:
    """Forecast, set targets and compute the make list of the coming ship days."""
    return compute_make_list(as_of=real.as_of, now=real.as_of, days=PLAN_DAYS)
