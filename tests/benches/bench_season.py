"""Stock built ahead of a season that the lines cannot follow, replayed: `python -m tests.benches.bench_season`.

A simulated plant whose demand is half as high again, nearly, for nine announced weeks: winding alone then asks for
more than the lines work. The weeks before, the season and a week after it are replayed with the make list, once
without and once with what is built ahead. Both are given the announcement.
"""

from __future__ import annotations

import os
import tempfile
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from unittest.mock import patch

import django

from tests.benches.machine import machine
from tests.benches.simulated_plant import Season, write_simulated_plant

SEASON = Season(date(2026, 6, 29), date(2026, 8, 28), 1.4)
FIRST, LAST = date(2026, 5, 25), date(2026, 9, 4)
LOAD, SEED, MOVES, HISTORY_DAYS = 0.75, 1, 200, 360
LAST_ORDER_DAY = date(2026, 9, 18)
ANNOUNCED = datetime(2026, 5, 1, tzinfo=UTC)


def main() -> None:
    """Print both replays."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/bench.sqlite3"
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
        django.setup()
        print(machine(), flush=True)
        now = _loaded(Path(folder))
        for words, is_built in (("levels alone", False), ("built ahead", True)):
            _print_replay(words, now, is_built=is_built)


def _loaded(folder: Path) -> datetime:
    # These need the settings, which are only set up by now.
    from django.core.management import call_command

    from inventory.plant_files.load import load_plant
    from inventory.rules.clock import Clock
    from stockplan.planner.services.announcements import announce_demand

    call_command("migrate", verbosity=0)
    plant = write_simulated_plant(
        folder / "plant", load=LOAD, seed=SEED, history_days=HISTORY_DAYS, last_day=LAST_ORDER_DAY, season=SEASON
    )
    now = datetime.combine(LAST_ORDER_DAY + timedelta(days=1), time(), tzinfo=UTC)
    load_plant(plant.directory, as_of=now)
    announce_demand(
        name="Season",
        first_day=SEASON.first,
        last_day=SEASON.last,
        factor=Decimal(str(SEASON.factor)),
        clock=Clock.at(ANNOUNCED),
    )
    return now


def _print_replay(words: str, now: datetime, *, is_built: bool) -> None:
    from stockplan.planner.core import built_ahead as core
    from stockplan.planner.core.replay.policies import MakeListPolicy
    from stockplan.planner.core.replay.records import ReplayTotals
    from stockplan.planner.core.replay.simulation import replay
    from stockplan.planner.services import levels
    from stockplan.planner.services.replay import prepare_replay
    from tests.benches.bench_replay import searching

    def asked(*args: object, **named: object) -> core.BuiltAhead:
        found = core.built_ahead(*args, **named)  # type: ignore[arg-type]
        return found if is_built else replace(found, spools=found.spools * 0)

    with patch.object(levels, "built_ahead", asked):
        prepared = prepare_replay(first_day=FIRST, last_day=LAST, now=now)
        records = replay(searching(prepared.stretch, MOVES), MakeListPolicy(), forecast_of=prepared.forecasts)
    totals = ReplayTotals.of(records)
    missed = totals.orders.due - totals.orders.kept
    print(f"{words:<14} {missed:5d} of {totals.orders.due} orders missed, mean stock {totals.mean_stock_units:.0f}, "
          f"most {max(record.stock_units for record in records)}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
