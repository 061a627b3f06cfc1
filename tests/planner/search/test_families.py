"""The cheapest lots of families: against all lots of tiny families, and as the slopes that the bound climbs by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise, permutations, product

import numpy as np
import pytest

from stockplan.planner.core.search.families import Families, Load
from stockplan.planner.core.search.problem import SearchProblem
from stockplan.planner.core.search.relaxed import relaxed_of
from stockplan.planner.core.search.visit_tables import NEVER
from tests.planner.search.small_problems import SHIFTS, random_problem, with_items


def random_prices(problem: SearchProblem, seed: int) -> Load:
    relaxed, rng = relaxed_of(problem), np.random.default_rng(seed)
    days = relaxed.capacity.shape[1]
    return Load(
        minutes=rng.uniform(0, 0.2, relaxed.capacity.shape),
        holding=rng.uniform(0, 2, (relaxed.classes, days + 1)),
        items=rng.uniform(0, 1, len(relaxed.items.stock)),
        last=rng.uniform(0, 3, 1),
        visits=rng.uniform(0, 4, (len(relaxed.class_of), relaxed.visit_days)),
        taken_back=rng.uniform(0, 0.5, (len(relaxed.family_of), days)),
    )


def problems() -> Iterator[SearchProblem]:
    for seed in range(24):
        problem = random_problem(seed, families=3, lines=2, most=3)
        problem = with_items(problem, seed=seed) if seed % 3 == 0 else problem
        # In half of them the last setups are early, so that there are days of last lots.
        lines = [replace(line, setups=SHIFTS[:2]) for line in problem.lines] if seed % 2 else problem.lines
        # Where all families arrive on the same days, visits to them are priced.
        finish = problem.finish if seed % 4 < 2 else np.zeros(3, dtype=np.int64)
        yield replace(problem, lines=lines, finish=finish)


def visits_cost(problem: SearchProblem, price: Load) -> float:
    """Cost of the best of all orders in which each line can visit families, day by day."""
    r, groups = relaxed_of(problem), relaxed_of(problem).groups
    minute = price.minutes[:, ::-1].cumsum(axis=1)[:, ::-1]
    families = range(len(groups.of))
    orders = [order for n in range(len(families) + 1) for order in permutations(families, n)]

    def way(pool: int, a: int, b: int) -> float:
        if groups.of[a] != groups.of[b]:
            return float(groups.beyond[pool, groups.of[a], groups.of[b]])
        return max(float(groups.height[pool, b] - groups.height[pool, a]), 0.0)

    def onwards(pool: int, day: int, holds: int) -> float:
        if day == r.visit_days:
            return 0.0
        return min(on_day(pool, day, holds, order) for order in orders)

    def on_day(pool: int, day: int, holds: int, order: tuple[int, ...]) -> float:
        taken = sum(way(pool, a, b) for a, b in pairwise((holds, *order) if holds >= 0 else order))
        # What the line stands at is visited without a way.
        seen = {holds, *order} - {-1}
        worth = sum(float(price.visits[family, day]) for family in seen if groups.height[pool, family] < NEVER)
        return taken * minute[pool, day] - worth + later(pool, day + 1, order[-1] if order else holds)

    later = cache(onwards)
    kinds = zip(groups.pool.tolist(), groups.holds.tolist(), groups.lines.tolist(), strict=True)
    return sum(lines * later(pool, 0, holds) for pool, holds, lines in kinds)


def plain_cost(problem: SearchProblem, price: Load, family: int) -> float:
    """Cost of the best of all sets of days and ways of beginning the lots, written out from the bound's definition."""
    r = relaxed_of(problem)
    ends = r.capacity.shape[1]
    minute = price.minutes[:, ::-1].cumsum(axis=1)[:, ::-1]
    held, late = price.holding[r.class_of[family]], r.late[family]

    def lot(minutes: np.ndarray, day: int) -> float:
        able = np.isfinite(minutes)
        if not able.any():
            return np.inf
        return float(price.last[0]) if late[day] else float((minutes[able] * minute[able, day]).min())

    def unit(sku: int, day: int) -> float:
        able = np.isfinite(r.unit_min[:, sku])
        if day == ends:
            return 0.0
        of_items = float(r.items.use[sku] @ price.items) - float(price.taken_back[sku, day])
        free = late[day] or not able.any()
        return of_items if free else of_items + float((r.unit_min[able, sku] * minute[able, day]).min())

    skus = np.flatnonzero(r.family_of == family)
    tables = [r.tables.paid[r.tables.row[sku] : r.tables.row[sku] + r.tables.rows[sku]] for sku in skus]
    units = np.array(list(product(*(range(len(rows)) for rows in tables))))
    # Items allow no more of the SKUs together than of each.
    units = units[np.all(units @ r.items.use[skus] <= r.items.stock + 1e-9, axis=1)]

    def between(day: int, until: int) -> float:
        dearer = [unit(sku, day) - unit(sku, until) for sku in skus]
        spans = [
            rows[:, until] - rows[:, day] + np.arange(len(rows)) * d for rows, d in zip(tables, dearer, strict=True)
        ]
        return float(np.min(np.sum([span[units[:, k]] for k, span in enumerate(spans)], axis=0)))

    def begun(day: int, before: int | None, way: str) -> float:
        return unvisited(day, before, way) + (price.visits[family, day] if day < r.visit_days else 0.0)

    def unvisited(day: int, before: int | None, way: str) -> float:
        if way == "other":
            return lot(r.lot_min[:, family], day) + float(r.lot_cost[family])
        if way == "first":
            return lot(r.first_min[:, family], day) + held[: day + 1].sum()
        return np.inf if before is None else lot(r.own_min[:, family], day) + held[before + 1 : day + 1].sum()

    best = float(r.tables.before[family, ends])
    for count in range(1, ends + 1):
        for days in combinations(range(ends), count):
            stretches = list(zip(days, (*days[1:], ends), strict=True))
            supply = r.tables.before[family, days[0]] + sum(between(*stretch) for stretch in stretches)
            ways = product(("other", "own", "first"), repeat=count)
            before = (None, *days[:-1])
            best = min(best, supply + min(sum(map(begun, days, before, way)) for way in ways))
    return best


def test_cheapest_lots_cost_the_least_of_all_sets_of_days() -> None:
    for seed, problem in enumerate(problems()):
        price = random_prices(problem, seed)
        least = sum(plain_cost(problem, price, family) for family in range(3)) + relaxed_of(problem).fixed
        least += visits_cost(problem, price)
        assert Families(relaxed_of(problem)).cheapest(price)[0] == pytest.approx(least, abs=1e-9)


def test_cost_at_other_prices_is_not_above_what_use_says() -> None:
    # The cost is concave in prices, and what is used is its slope.
    for seed, problem in enumerate(problems()):
        families = Families(relaxed_of(problem))
        here, there = random_prices(problem, seed), random_prices(problem, 100 + seed)
        cost, used = families.cheapest(here)
        pairs = zip(vars(here).values(), vars(there).values(), vars(used).values(), strict=True)
        along = sum(float(((b - a) * use).sum()) for a, b, use in pairs)
        assert families.cheapest(there)[0] <= cost + along + 1e-9
