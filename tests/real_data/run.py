"""Run forecast, targets and make list on real orders and print what came out: `python -m tests.real_data.run`.

The database is a SQLite file in a temporary folder. `--weeks 8` uses the first eight weeks only.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from pathlib import Path

import django
import pandas as pd


def main() -> None:
    """Set up an own database, then time every step."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weeks", type=int, default=52, help="first weeks of the year that are used (default: all)")
    weeks = parser.parse_args().weeks
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/real.sqlite3"
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
        django.setup()
        _run(Path(folder), weeks=weeks)


def _run(folder: Path, *, weeks: int) -> None:
    # Both need the settings, which are only set up by now.
    from django.core.management import call_command

    from tests.real_data.planning import Stopwatch, import_real_orders, plan, write_real_orders

    watch = Stopwatch()
    call_command("migrate", verbosity=0)
    with watch.step("map orders, grow the plant"):
        real = write_real_orders(folder, weeks=weeks)
    with watch.step("load the plant, import all order lines"):
        said = import_real_orders(real)
    with watch.step("forecast, targets and make list"):
        made = plan(real)
    print(f"{real.table['reference'].nunique()} orders, {len(real.table)} lines, {real.table['sku'].nunique()} SKUs,")
    print(f"as of {real.as_of.isoformat()}, on the demo plant grown {real.growth:.2f} times.")
    print(said.strip())
    for step, seconds in watch.seconds.items():
        print(f"{seconds:8.1f} s  {step}")
    print("\nLoss on the demand of the risk period (pinball, less is better):")
    print(_score_table(pd.DataFrame(made.forecast_run.benchmarks)))
    print(f"\nMake list {made.first_day} to {made.last_day}: {made.runs.count()} runs,")
    print(f"expected misses {made.misses_without:.0f} units without it, {made.misses_with:.0f} with it;")
    print(f"{made.hours_short_per_week:.0f} line hours a week are missing to keep the promise.")


def _score_table(scores: pd.DataFrame) -> str:
    """Benchmarks beside what was chosen, by class of demand, with how often the chosen quantiles held."""
    is_chosen = scores["method"] == "chosen"
    shown = scores[scores["is_benchmark"] | is_chosen]
    table = shown.pivot_table(index="demand_class", columns="method", values="loss", sort=False, dropna=False)
    held = scores[is_chosen].set_index("demand_class")[["windows", "coverage_0.5", "coverage_0.95", "coverage_0.99"]]
    return table.join(held).round(4).to_string()


if __name__ == "__main__":
    main()
