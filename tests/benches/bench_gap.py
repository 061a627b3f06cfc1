"""How far lists are from their lower bound, against size: `python -m tests.benches.bench_gap`.

Simulated plants whose demand fills 85 % of the lines (changeovers of 10 to 85 min, resin that dries for 4 h in eight
hoppers), ten ship days, from the list of the index on. The search is given misses alone, as the bound counts them, so
that the two can be compared; the list that the planner gets prices stock and later lists besides. Three costs are
printed: of the index's list, of the search's plan as the search times it, and of the same plan as the floor times it,
with hoppers and crews. Gaps are shares of each cost. Seconds are those of index, search and bound together. The goals:
median under 3 % at 400 SKUs and 4 lines in 5 s, and at 2,000 SKUs and 12 lines in 60 s.
"""

from __future__ import annotations

import os
import tempfile
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import django

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.list_problem import list_problem
from stockplan.planner.core.planning import choose_runs
from stockplan.planner.core.search.bound import lower_bound
from stockplan.planner.core.search.problem import Budget
from stockplan.planner.core.search.search import search
from stockplan.planner.core.sequence import sequences_of
from stockplan.planner.core.supply import supply_state
from tests.benches.machine import machine
from tests.benches.simulated_plant import ZONE, write_simulated_plant
from tests.planner.search.small_problems import random_problem

LOAD = 0.85
MORNING = timedelta(hours=6)
HISTORY_DAYS = 150


@dataclass(frozen=True)
class Size:
    """A plant and the work that fits into its seconds."""

    skus: int
    filaments: int
    lines: int
    seeds: tuple[int, ...]
    moves: int
    steps: int


SIZES = (
    Size(skus=100, filaments=40, lines=2, seeds=(1, 2, 3), moves=500_000, steps=60),
    Size(skus=400, filaments=160, lines=4, seeds=(1, 2, 3), moves=1_000_000, steps=60),
    Size(skus=2000, filaments=800, lines=12, seeds=(1,), moves=6_000_000, steps=100),
)


def main() -> None:
    """Print one row per plant."""
    print(machine(), flush=True)
    print(f"{'SKUs':>5}{'lines':>6}{'seed':>5}{'index':>9}{'search':>9}{'on floor':>9}{'bound':>9}"
          f"{'gap of each':>21}{'index s':>9}{'search s':>9}{'bound s':>8}", flush=True)  # fmt: skip
    for size in SIZES:
        for seed in size.seeds:
            with tempfile.TemporaryDirectory() as folder:
                _in_child(Path(folder), size, seed)


def _in_child(folder: Path, size: Size, seed: int) -> None:
    """Measure in a process of its own: Django takes one database for the life of a process."""
    child = os.fork()
    if child == 0:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/bench.sqlite3"
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
        django.setup()
        _measure(_facts(folder, size, seed), size, seed)
        os._exit(0)
    if os.waitpid(child, 0)[1]:
        raise SystemExit(f"{size} seed {seed} failed")


def _facts(folder: Path, size: Size, seed: int) -> PlanFacts:
    # These need the settings, which are only set up by now.
    from django.core.management import call_command

    from inventory.plant_files.load import load_plant
    from stockplan.planner.services.forecasts import compute_forecast

    call_command("migrate", verbosity=0)
    plant = write_simulated_plant(
        folder / "plant",
        load=LOAD,
        seed=seed,
        filaments=size.filaments,
        skus=size.skus,
        lines=size.lines,
        history_days=HISTORY_DAYS,
    )
    as_of = datetime.combine(plant.first_simulated_day, datetime.min.time(), tzinfo=ZONE) + MORNING
    load_plant(plant.directory, as_of=as_of)
    return compute_forecast(as_of=as_of, now=as_of, days=10).facts()


def _measure(facts: PlanFacts, size: Size, seed: int) -> None:
    # The first search on a machine compiles for some seconds; that is not measured.
    search(random_problem(1, lines=1), ((),), budget=Budget(moves=1))
    began = time.perf_counter()
    made = choose_runs(facts)
    plant, opening = made.floor.plant, made.opening
    index_s = time.perf_counter() - began
    state = supply_state(plant, opening, tables=made.before.tables)
    given = list_problem(opening.floor.copy(), state, allowed=made.rules.allowed, fixed=(), until_min=plant.end_min)
    began = time.perf_counter()
    found = search(given.problem, given.plan(sequences_of(made.runs)), budget=Budget(moves=size.moves))
    on_floor = made.laid_out(given.sequences(found.plan)).misses
    search_s = time.perf_counter() - began
    began = time.perf_counter()
    bound = lower_bound(given.problem, above=min(made.misses, on_floor), steps=size.steps)
    bound_s = time.perf_counter() - began
    gaps = "".join(f"{1 - bound / cost:7.1%}" for cost in (made.misses, found.cost, on_floor))
    print(f"{size.skus:5d}{size.lines:6d}{seed:5d}{made.misses:9.1f}{found.cost:9.1f}{on_floor:9.1f}{bound:9.1f}"
          f"{gaps}{index_s:9.1f}{search_s:9.1f}{bound_s:8.1f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
