"""Seconds that the make list of the demo plant takes, forecast given: `python -m tests.benches.bench_plan`.

The goals are 5 s for ten ship days and 3 s for a what-if on that list; printed as the share of each that was used,
with the machine.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import django

from tests.benches.machine import machine

GOAL_SECONDS = 5.0
WHAT_IF_GOAL_SECONDS = 3.0
RUNS = 3
LAST_DAY = date(2027, 2, 14)


def main() -> None:
    """Load the demo plant into a database of its own and time the list."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/bench.sqlite3"
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
        django.setup()
        _run(Path(folder))


def _run(folder: Path) -> None:
    # These need the settings, which are only set up by now.
    from django.core.management import call_command

    from inventory.plant_files.load import load_plant
    from stockplan.demo.generate import write_demo_plant

    call_command("migrate", verbosity=0)
    write_demo_plant(folder / "plant", last_day=LAST_DAY)
    as_of = datetime.combine(LAST_DAY + timedelta(days=1), datetime.min.time(), tzinfo=ZoneInfo("Europe/Vienna"))
    as_of += timedelta(hours=6, minutes=30)
    load_plant(folder / "plant", as_of=as_of)
    times = [_seconds(as_of) for _ in range(RUNS)]
    forecast_s, list_s = (statistics.median(column) for column in zip(*times, strict=True))
    print(machine())
    print(f"forecast and targets {forecast_s:.2f} s; make list of ten ship days {list_s:.2f} s (median of {RUNS})")
    print(f"ratio to the goal of {GOAL_SECONDS:g} s: {list_s / GOAL_SECONDS:.2f}")
    _time_what_ifs(as_of)


def _time_what_ifs(as_of: datetime) -> None:
    """Print the seconds and the price of each kind of change on the newest list."""
    from stockplan.planner.core.whatif import Forbid, ItemLate, LineDown, Pin, Resize, RushOrder
    from stockplan.planner.models import MakeList
    from stockplan.planner.services.what_if import what_if

    tomorrow = as_of.date() + timedelta(days=1)
    newest = MakeList.objects.filter(as_of=as_of).latest("created_at")
    first = newest.runs.get(rank=1)
    size = first.sizes.select_related("sku__item").order_by("pk").first()
    changes = {
        "a line down tomorrow": LineDown(first.line.code, tomorrow),
        "a rush order of 60 spools": RushOrder(size.sku.item.code, 60, tomorrow),
        "resin late by three days": ItemLate(first.filament.material.resin_item.code, 3),
        "pin": Pin(first.filament.code),
        "forbid": Forbid(first.filament.code),
        "resize": Resize(size.sku.item.code, 2 * size.spools),
    }
    for name, change in changes.items():
        found = what_if([change], now=as_of)
        ratio = found.compute_seconds / WHAT_IF_GOAL_SECONDS
        print(
            f"what if, {name}: {found.price:+.1f} misses, {found.compute_seconds:.2f} s, "
            f"ratio to the goal of {WHAT_IF_GOAL_SECONDS:g} s: {ratio:.2f}"
        )


def _seconds(as_of: datetime) -> tuple[float, float]:
    """Seconds of the forecast with its targets, and of the list that stands on it."""
    from stockplan.planner.services.make_lists import compute_make_list

    forecast_done: list[float] = []

    def note(what: str, done: float) -> None:
        if what == "forecast" and done == 1.0:
            forecast_done.append(time.perf_counter())

    began = time.perf_counter()
    compute_make_list(as_of=as_of, now=as_of, progress=note)
    return forecast_done[0] - began, time.perf_counter() - forecast_done[0]


if __name__ == "__main__":
    main()
