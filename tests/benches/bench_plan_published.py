"""The search behind the list, on published instances and against size: `python -m tests.benches.bench_plan_published`.

Every run starts from a random list, but for the table of sizes, whose runs start as a list's do. Times are processor
seconds after warm-up, with the machine.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.search.bound import lower_bound
from stockplan.planner.core.search.dispatch import best_start
from stockplan.planner.core.search.problem import Budget, Found, SearchLine, SearchProblem
from stockplan.planner.core.search.search import random_start, search
from tests.benches.machine import machine
from tests.benches.proofs import proved_pigment, proved_tardiness, rival_lines
from tests.benches.round_trips import proved_tour, tour_bound
from tests.planner.search.invented import jobs, pigment_orders, tour_minutes
from tests.planner.search.published import cyclic, entries, pigment, round_trip, weighted_tardiness

Matrix = NDArray[np.float64]
Result = TypeVar("Result")
PUBLISHED = Budget(moves=200_000, rounds=30)
INVENTED = Budget(moves=50_000, rounds=20)
ONE_LINE = Budget(moves=45_000)
FOUR_LINES = Budget(moves=300_000, rounds=4)
RIVAL_S = 30.0
BRANCHINGS = 5


def main() -> None:
    """Print one table after the other."""
    began = time.monotonic()
    print(machine())
    _solve(round_trip(_changeovers(8, seed=1).tolist()), Budget(1_000), seed=1)
    _published()
    _invented()
    _one_line()
    _four_lines()
    _sizes()
    print(f"\n{time.monotonic() - began:.0f} s in all")


def _solve(problem: SearchProblem, budget: Budget, *, seed: int) -> tuple[Found, float]:
    start = random_start(problem, seed=seed)
    began = time.process_time()
    return search(problem, start, budget=budget), time.process_time() - began


def _published() -> None:
    print("\npublished instance; stated; found; seconds")
    for name, stated, problem in _instances():
        found, seconds = _solve(problem, PUBLISHED, seed=1)
        print(f"{name}; {stated:g}; {found.cost:g}; {seconds:.2f}")
    (entry,) = entries("Bomberger")
    days = (23.2, 23.4, 23.5)
    runs = [
        _solve(cyclic(entry["inputs"], period_days=d), Budget(1_000_000, 4, seed=s), seed=s)
        for d in days
        for s in (1, 2, 3, 4)
    ]
    best = min(found.cost for found, _ in runs)
    print(f"cyclic plan of ten items; {entry['expected']['total']:.4f}; {best:.4f}; {sum(s for _, s in runs):.2f}")


def _instances() -> list[tuple[str, float, SearchProblem]]:
    found: list[tuple[str, float, SearchProblem]] = []
    for file in ("scheduling.json", "scheduling_larger.json"):
        for e in entries("Pigment", file=file):
            i = e["inputs"]
            found.append((e["name"], e["expected"]["optimal_cost"], pigment(i["demand"], i["h"], i["changeover"])))
        for e in entries("ATSP", file=file):
            found.append((e["name"], e["expected"]["optimal"], round_trip(e["inputs"]["matrix"])))
        for e in entries("Single", file=file):
            i = e["inputs"]
            found.append((e["name"], e["expected"]["optimal"], weighted_tardiness(i["p"], i["w"], i["d"])))
    return found


def _changeovers(runs: int, *, seed: int) -> Matrix:
    """Minutes between runs of four materials: 50 for another material, more towards a lighter colour; row 0 holds."""
    rng = np.random.default_rng(seed)
    material, light = rng.integers(0, 4, runs + 1), rng.uniform(10, 95, runs + 1)
    lighter = np.maximum(light[None, :] - light[:, None], 0)
    minutes = (
        50.0 * (material[:, None] != material[None, :]) + 10 + 0.5 * lighter + rng.uniform(0, 8, (runs + 1, runs + 1))
    )
    minutes[:, 0] = 0.0
    return np.round(minutes)


def _invented() -> None:
    """Instances drawn in the shape of the published ones; every optimum is proved by HiGHS."""
    print("\ninstances in the shape of; optimum reached; of; worst over it; seconds each")
    tours = [tour_minutes(seed, cities=45) for seed in range(10)]
    _reached("ATSP, 45 cities", [(round_trip(c.tolist()), lambda found, c=c: _proved(c, found)) for c in tours])
    drawn = [pigment_orders(seed, items=6, periods=20) for seed in range(10)]
    _reached("pigment20", [(pigment(d, 10, c), lambda _, d=d, c=c: proved_pigment(d, 10, c)) for d, c in drawn])
    late = [jobs(seed, count=30, longest=8) for seed in range(10)]
    _reached("wt40 with 30 short jobs", [(weighted_tardiness(*a), lambda _, a=a: proved_tardiness(*a)) for a in late])


def _reached(shape: str, instances: list[tuple[SearchProblem, Callable[[float], float]]]) -> None:
    over, took = [], 0.0
    for seed, (problem, optimum) in enumerate(instances):
        found, seconds = _solve(problem, INVENTED, seed=seed)
        over.append(found.cost / max(optimum(found.cost), 1.0) - 1)
        took += seconds
    hits = sum(gap < 1e-6 for gap in over)
    print(f"{shape}; {hits}; {len(over)}; {max(0.0, *over):.2%}; {took / len(over):.2f}")


def _proved(matrix: Matrix, found: float) -> float:
    return proved_tour(tour_bound(matrix, found), found)


def _one_line() -> None:
    print("\none line of 60 runs; seed; found; proved optimum; over it; bound; below it; ms of search; ms of bound")
    over = []
    for seed in range(1, 13):
        matrix = _changeovers(60, seed=seed)
        found, seconds = _solve(round_trip(matrix.tolist()), ONE_LINE, seed=seed)
        tour, bound_s = _timed(lambda m=matrix, c=found.cost: tour_bound(m, c, branchings=BRANCHINGS))
        optimum = proved_tour(tour, found.cost)
        over.append(found.cost / optimum - 1)
        print(
            f"{seed}; {found.cost:g}; {optimum:g}; {over[-1]:.2%}; {tour.bound:g}; {1 - tour.bound / optimum:.2%}; "
            f"{1000 * seconds:.0f}; {1000 * bound_s:.0f}"
        )
    print(
        f"mean {np.mean(over):.2%}, worst {max(over):.2%}, {sum(o <= 0.005 for o in over)} of {len(over)} within 0.5 %"
    )


def _timed(work: Callable[[], Result]) -> tuple[Result, float]:
    began = time.process_time()
    return work(), time.process_time() - began


def _four_lines() -> None:
    print("\nfour lines of 15 runs; seed; found; seconds; CP-SAT from that list; its bound; wall seconds")
    for seed in range(1, 4):
        found, seconds = _solve(_lines_of_15(seed), FOUR_LINES, seed=seed)
        matrix = _changeovers(60, seed=seed)
        first = np.array([matrix[1 + at * 15, 1:] for at in range(4)])
        plan = [[lot.family for lot in line] for line in found.plan]
        rival, bound = rival_lines(matrix[1:, 1:], first, plan, seconds=RIVAL_S)
        print(f"{seed}; {found.cost:g}; {seconds:.2f}; {rival:g}; {bound:g}; {RIVAL_S:g}")


def _lines_of_15(seed: int) -> SearchProblem:
    """60 runs of a slot each on four lines with 15 slots; what has no slot is not made."""
    matrices = [_changeovers(60, seed=seed) for _ in range(4)]
    lines = []
    for at, matrix in enumerate(matrices):
        cost = np.zeros((61, 61))
        cost[:60, :60], cost[60, :60] = matrix[1:, 1:], matrix[1 + at * 15, 1:]
        arrival = (np.arange(18) > 15).astype(int)[None]
        lines.append(SearchLine(np.zeros((61, 60), int), cost, np.ones(60), arrival))
    made = np.array([[1000.0], [0.0]])
    return SearchProblem(lines, np.arange(60), [made] * 60, np.zeros(60, int), np.zeros(60, int))


def _sizes() -> None:
    print("\nSKUs; lines; without a list; found; bound; gap; seconds of search; of bound")
    # 2,000 SKUs on 12 lines are part of `make bench-gap FULL=1`.
    for skus, lines in ((100, 2), (200, 2), (400, 4)):
        problem = _plant(skus, lines, seed=1)
        found, seconds = _timed(lambda p=problem, n=skus: _from_dispatched(p, Budget(1000 * n, 3)))
        bound, bound_s = _timed(lambda p=problem, c=found.cost: lower_bound(p, above=c))
        nothing = sum(float(table[0].sum()) for table in problem.costs)
        gap = 1 - bound / found.cost
        print(f"{skus}; {lines}; {nothing:.0f}; {found.cost:.0f}; {bound:.0f}; {gap:.1%}; {seconds:.1f}; {bound_s:.1f}")


def _from_dispatched(problem: SearchProblem, budget: Budget) -> Found:
    """Search from where a list does: from the lots of the bound, given to the lines."""
    return search(problem, best_start(problem, tuple(() for _ in problem.lines)), budget=budget)


def _plant(skus: int, lines: int, *, seed: int) -> SearchProblem:
    """Ten days of 16 hours at 85 % winding; costs are units short each day, with Poisson-like demand in steps."""
    rng = np.random.default_rng(seed)
    families, days = skus // 2, 10
    matrix = _changeovers(families, seed=seed)[1:, 1:]
    np.fill_diagonal(matrix, 0)
    setup = np.vstack([matrix, np.zeros(families)]).astype(np.int64)
    daily = rng.lognormal(0, 1.0, skus)
    unit = np.full(skus, 0.85 * lines * 960 / daily.sum())
    ends = np.arange(days) * 1440 + 960
    arrival = np.minimum(np.searchsorted(ends, np.arange(days * 1440 + 10)) + 1, days)[None]
    tables = []
    for rate in daily:
        demand = np.cumsum(np.full(days, rate)) - rng.integers(0, int(4 * rate) + 2)
        tables.append(np.maximum(demand[None, :] - np.arange(int(rate * days) + 2)[:, None], 0.0))
    shifts = tuple((d * 1440, d * 1440 + 960) for d in range(days))
    line = SearchLine(setup, np.zeros((families + 1,) * 2), unit, arrival, work=shifts, setups=shifts)
    return SearchProblem([line] * lines, np.arange(skus) // 2, tables, np.zeros(families, int), np.zeros(families, int))


if __name__ == "__main__":
    main()
