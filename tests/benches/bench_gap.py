"""How far lists are from their lower bound, against size: `python -m tests.benches.bench_gap [--large]`.

Plants invented in memory: four materials, changeovers of 10 to 85 min, two shifts, demand whose winding fills 80 % of
the lines and comes in lots, shelves anywhere below their levels, two hoppers a line that hold dry resin; ten ship
days. The search is given misses alone, as the bound counts them, so that the two can be compared; the list that the
planner gets prices stock and later lists besides. Printed are the misses of the index's list, of the search's plan as
the search times it, and as the floor does; two searches are tried side by side, as they are for a list. Gaps are shares
of each. The goals: median under 3 % at 400 SKUs and 4 lines in 5 s, and, with
`--large`, at 2,000 SKUs and 12 lines in 60 s; seconds are those of index, search and bound together.
"""

from __future__ import annotations

import argparse
import statistics
import time
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from stockplan.planner.core.changeover import ChangeoverRule
from stockplan.planner.core.facts import HopperFacts, PlanFacts, SkuFacts
from stockplan.planner.core.list_problem import list_problem
from stockplan.planner.core.planning import choose_runs
from stockplan.planner.core.search.bound import lower_bound
from stockplan.planner.core.search.dispatch import best_start
from stockplan.planner.core.search.problem import Budget
from stockplan.planner.core.search.search import search, search_on_floor
from stockplan.planner.core.sequence import sequences_of
from stockplan.planner.core.supply import supply_state
from tests.benches.machine import machine
from tests.planner.search.small_problems import random_problem
from tests.planner.small_facts import MONDAY, calendar, facts, filament, line, material, sku

MATERIALS = ("ALPHA", "BETA", "GAMMA", "DELTA")
SIZES_KG = {"1000": 1.0, "250": 0.25, "2500": 2.5}
SHIFT_MIN, LOAD = 16 * 60, 0.8
DAYS, LIST_DAYS = 20, 10
LUMPINESS = 2.0
RULE = ChangeoverRule(
    material_change_min=50, diameter_change_min=20, colour_change_min=10, darker_to_lighter_min=0.3, purge_kg_per_hour=6
)


@dataclass(frozen=True)
class Size:
    """A plant and the work that fits into its seconds."""

    skus: int
    lines: int
    seeds: tuple[int, ...]
    moves: int


SIZES = (
    Size(skus=50, lines=1, seeds=(1, 2, 3, 4, 5), moves=1_000_000),
    Size(skus=200, lines=2, seeds=(1, 2, 3, 4, 5), moves=1_000_000),
    Size(skus=400, lines=4, seeds=(1, 2, 3, 4, 5), moves=2_000_000),
)
LARGE = Size(skus=2000, lines=12, seeds=(1,), moves=5_000_000)


@dataclass(frozen=True)
class Measured:
    """Misses of the index's list, of the search's plan by the search and by the floor, and their bound; seconds."""

    index: float
    found: float
    on_floor: float
    bound: float
    index_s: float
    search_s: float
    bound_s: float

    @property
    def gaps(self) -> tuple[float, float, float]:
        """Shares of each that are above the bound."""
        index, found, on_floor = (1 - self.bound / misses for misses in (self.index, self.found, self.on_floor))
        return index, found, on_floor


def main() -> None:
    """Print a row for each plant and the medians of each size."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--large", action="store_true")
    sizes = (*SIZES, LARGE) if parser.parse_args().large else SIZES
    # The first search on a machine compiles for some seconds; that is not measured.
    search(random_problem(1, lines=1), ((),), budget=Budget(moves=1))
    print(machine())
    print("                        misses                              gap to the bound     seconds")
    print(" SKUs lines seed   index  search  on floor   bound   index  search  floor   index  search  bound")
    for size in sizes:
        rows = [_row(size, seed) for seed in size.seeds]
        index, found, on_floor = (statistics.median(gaps) for gaps in zip(*(row.gaps for row in rows), strict=True))
        seconds = statistics.median(row.index_s + row.search_s + row.bound_s for row in rows)
        print(f"{size.skus:5d}{size.lines:6d}  median of {len(rows)}: index {index:.1%}, search {found:.1%}, on the "
              f"floor {on_floor:.1%}; {seconds:.1f} s", flush=True)  # fmt: skip


def plant_facts(size: Size, seed: int) -> PlanFacts:
    """Invent a plant."""
    rng = np.random.default_rng(seed)
    filaments = [f"F{i:03d}" for i in range(int(size.skus * 0.4))]
    material_of = dict(zip(filaments, rng.choice(MATERIALS, len(filaments)), strict=True))
    others = [(code, net) for code in filaments for net in ("250", "2500")]
    chosen = rng.permutation(len(others))[: size.skus - len(filaments)]
    made = [(code, "1000") for code in filaments] + [others[at] for at in sorted(chosen)]
    popularity = dict(zip(filaments, rng.lognormal(0, 1.1, len(filaments)), strict=True))
    share = {"1000": 1.0, "250": 0.6, "2500": 0.25}
    wanted = np.array([popularity[code] * share[net] for code, net in made])
    kg = np.array([SIZES_KG[net] for _, net in made])
    # A line winds 3 kg an hour.
    wanted *= LOAD * size.lines * SHIFT_MIN / float(wanted @ kg * 20)
    codes = [f"L{i:02d}" for i in range(size.lines)]
    return facts(
        codes=tuple(filaments),
        days=DAYS,
        list_days=LIST_DAYS,
        skus=tuple(_sku(rng, code, net, daily) for (code, net), daily in zip(made, wanted, strict=True)),
        filaments=tuple(
            filament(code, material_code=material_of[code], lab_l=float(rng.uniform(15, 95))) for code in filaments
        ),
        materials=tuple(material(code) for code in MATERIALS),
        lines=tuple(
            line(code, makes=tuple(filaments), holds=filaments[i], start_up_min=0.0) for i, code in enumerate(codes)
        ),
        calendar=calendar(lines=tuple(codes)),
        changeover_rule=RULE,
        hoppers=tuple(
            HopperFacts(f"H{i:02d}", 400.0, True, 15.0, MATERIALS[i % len(MATERIALS)], MONDAY - timedelta(hours=6))
            for i in range(max(2 * size.lines, len(MATERIALS)))
        ),
    )


def _sku(rng: np.random.Generator, code: str, net: str, daily: float) -> SkuFacts:
    level = int(np.ceil(8 * daily + 2 * np.sqrt(8 * LUMPINESS * daily)))
    made = sku(code, daily=daily, days=DAYS, size=net, order_up_to=level, shelf=int(rng.integers(0, level + 1)))
    kg = SIZES_KG[net]
    return replace(
        made, net_g=int(1000 * kg), target_kg=kg, oven_places=kg, variance=tuple(LUMPINESS * m for m in made.mean)
    )


def _row(size: Size, seed: int) -> Measured:
    row = _measured(plant_facts(size, seed), size)
    misses = f"{row.index:8.1f}{row.found:8.1f}{row.on_floor:10.1f}{row.bound:8.1f}"
    seconds = f"{row.index_s:8.1f}{row.search_s:8.1f}{row.bound_s:7.1f}"
    print(f"{size.skus:5d}{size.lines:6d}{seed:5d}{misses}  {''.join(f'{gap:7.1%}' for gap in row.gaps)}{seconds}",
          flush=True)  # fmt: skip
    return row


def _measured(given: PlanFacts, size: Size) -> Measured:
    times = [time.perf_counter()]
    made = choose_runs(given)
    times.append(time.perf_counter())
    state = supply_state(made.floor.plant, made.opening, tables=made.before.tables)
    until_min = made.floor.plant.end_min
    asked = list_problem(made.opening.floor.copy(), state, allowed=made.rules.allowed, fixed=(), until_min=until_min)
    start = best_start(asked.problem, asked.plan(sequences_of(made.runs)))

    both = search_on_floor(
        asked.problem,
        start,
        moves=size.moves,
        seeds=(1, 2),
        laid_out=lambda plan: made.laid_out(asked.sequences(plan)),
        cost=lambda laid: laid.misses,
    )
    found, on_floor = min(each.cost for each, _ in both), min(laid.misses for _, laid in both)
    times.append(time.perf_counter())
    bound = lower_bound(asked.problem, above=min(made.misses, on_floor))
    times.append(time.perf_counter())
    if bound > min(made.misses, found, on_floor) + 1e-6:
        raise ValueError(f"bound {bound} is above a plan: {made.misses}, {found}, {on_floor}")
    index_s, search_s, bound_s = np.diff(times).tolist()
    return Measured(made.misses, found, on_floor, bound, index_s, search_s, bound_s)


if __name__ == "__main__":
    main()
