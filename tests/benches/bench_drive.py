"""A plant driven over the API for weeks: `python -m tests.benches.bench_drive --load 0.85 --days 42 --seed 1`.

Loads a simulated plant into a database of its own and plays one ship day after the other over the REST API. Prints
each day and at last the share of orders that shipped complete on their due day, with the stock that it took, beside
the goal of that load. Shares are of all days and of those after the first ten, when the opening stock is sold.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time as clock
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

import django
import numpy as np

from tests.benches.machine import machine

if TYPE_CHECKING:
    from tests.benches.drive import Api, DayRecord, Floor
    from tests.benches.simulated_plant import SimulatedPlant

WARM_UP_DAYS = 10
FLOORS = ("day", "whole", "queue")


@dataclass(frozen=True)
class Goal:
    """Share of orders on their due day, with at most so many days of demand in stock."""

    share: float
    stock_days: float


GOALS = {0.65: Goal(0.98, 11.0), 0.75: Goal(0.97, 9.5), 0.85: Goal(0.96, 8.0)}


def main() -> None:
    """Drive one plant."""
    options = _options()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/drive.sqlite3"
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
        django.setup()
        began = clock.perf_counter()
        plant, records = _drive(Path(folder), options)
        _report(plant, records, options, seconds=clock.perf_counter() - began)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--load", type=float, default=0.85, help="winding minutes of mean demand over line minutes")
    parser.add_argument("--days", type=int, default=42, help="ship days")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shift-hours", type=int, default=16, help="of every line on every weekday")
    parser.add_argument("--floor", choices=FLOORS, default="day", help="how the floor takes the list")
    return parser.parse_args()


def _drive(folder: Path, options: argparse.Namespace) -> tuple[SimulatedPlant, list[DayRecord]]:
    # These need the settings, which are only set up by now.
    from django.conf import settings
    from django.core.management import call_command

    from inventory.plant_files.load import load_plant
    from stockplan.access.models import Scope
    from stockplan.access.tokens import create_token
    from tests.benches.drive import Api, Drive
    from tests.benches.simulated_plant import ZONE, write_simulated_plant

    # As in production: with DEBUG Django keeps every query.
    settings.DEBUG, settings.ALLOWED_HOSTS = False, ["*"]
    call_command("migrate", verbosity=0)
    plant = write_simulated_plant(
        folder / "plant", load=options.load, seed=options.seed, shift_hours=options.shift_hours
    )
    load_plant(folder / "plant", as_of=datetime.combine(plant.days[-1], time(23), tzinfo=ZONE))
    token = create_token(name="driver", scopes=[scope.value for scope in Scope], channel_code=None, days=30)
    api = Api(token)
    floor = _floor(options.floor, api, plant)
    records = Drive(api, plant, floor, np.random.default_rng(options.seed + 6), _tell).run(options.days)
    call_command("check_books", verbosity=0)
    return plant, records


def _floor(kind: str, api: Api, plant: SimulatedPlant) -> Floor:
    from tests.benches.drive import Agenda
    from tests.benches.floors import DayFloor, QueueFloor, WholeFloor

    if kind == "queue":
        return QueueFloor(api, Agenda(), plant=plant)
    return WholeFloor(api, Agenda()) if kind == "whole" else DayFloor(api, Agenda())


def _tell(record: DayRecord) -> None:
    print(
        f"{record.day:%a %d %b}  orders {record.orders_kept:3d} of {record.orders_due:3d}, "
        f"{record.orders_waiting} wait; "
        f"shelf {record.shelf_units}; {record.runs} runs, {record.run_minutes / 60:.1f} h and "
        f"{record.changeover_minutes / 60:.1f} h changeover; list in {record.list_seconds:.1f} s",
        flush=True,
    )


def _report(
    plant: SimulatedPlant, records: Sequence[DayRecord], options: argparse.Namespace, *, seconds: float
) -> None:
    settled = records[WARM_UP_DAYS:] or records
    daily = float(plant.skus["rate"].sum())
    hours = len(settled) * plant.shift_hours * 4
    run_h = sum(r.run_minutes for r in settled) / 60
    change_h = sum(r.changeover_minutes for r in settled) / 60
    print(
        f"load {plant.load:.0%}, {plant.shift_hours} h shifts, floor {options.floor}, seed {options.seed}, "
        f"{len(records)} ship days: {_share(records):.4f} of {sum(r.orders_due for r in records)} orders on their day, "
        f"{_share(settled):.4f} after the first {WARM_UP_DAYS}; mean stock "
        f"{np.mean([r.shelf_units for r in settled]) / daily:.1f} days of demand; "
        f"lines run {run_h / hours:.1%} and change over {change_h / hours:.1%} of {hours} h, "
        f"{sum(r.runs for r in settled) / len(settled):.1f} runs a day"
    )
    if options.load in GOALS:
        goal = GOALS[options.load]
        print(f"goal at this load: {goal.share:.2f} with at most {goal.stock_days:g} days of stock")
    print(f"{seconds:.0f} s on {machine()}")


def _share(records: Sequence[DayRecord]) -> float:
    return sum(r.orders_kept for r in records) / max(sum(r.orders_due for r in records), 1)


if __name__ == "__main__":
    main()
