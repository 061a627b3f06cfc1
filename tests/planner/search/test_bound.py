"""The bound against the best of all plans of tiny problems, and against plans that the search finds."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from stockplan.planner.core.search.bound import lower_bound
from stockplan.planner.core.search.problem import Budget, SearchLot, SearchPlan, SearchProblem
from stockplan.planner.core.search.search import random_start, search
from tests.planner.search.plain import plain_cost
from tests.planner.search.small_problems import random_problem


def every_plan(problem: SearchProblem) -> Iterator[SearchPlan]:
    """Every sequence of lots on the one line of a problem with one SKU a family."""
    most = [len(table) - 1 for table in problem.costs]

    def longer(lots: tuple[SearchLot, ...], left: tuple[int, ...]) -> Iterator[SearchPlan]:
        yield (lots,)
        for family, units in enumerate(left):
            if np.isfinite(problem.lines[0].unit_min[family]):
                for n in range(1, units + 1):
                    rest = (*left[:family], units - n, *left[family + 1 :])
                    yield from longer((*lots, SearchLot(family, (n,))), rest)

    return longer((), tuple(most))


@pytest.mark.parametrize("hundred", range(2))
def test_bound_is_not_above_the_best_of_all_plans(hundred: int) -> None:
    # 200 tiny problems in two parts.
    over = []
    for seed in range(100 * hundred, 100 * hundred + 100):
        problem = random_problem(seed, families=2, lines=1, most=2, sizes=1)
        best = min(plain_cost(problem, plan) for plan in every_plan(problem))
        bound = lower_bound(problem, above=best + 1.0, steps=40)
        over += [(seed, bound, best)] if bound > best + 1e-6 else []
    assert over == []


@pytest.mark.parametrize("seed", range(10))
def test_bound_is_not_above_any_plan_found_and_is_of_use(seed: int) -> None:
    problem = random_problem(seed, families=8, lines=3, most=8)
    nothing = plain_cost(problem, ((),) * 3)
    found = search(problem, random_start(problem, seed=seed), budget=Budget(moves=20_000, rounds=2)).cost
    bound = lower_bound(problem, above=found)
    assert bound <= found + 1e-6
    # It closes more than half of the way from making nothing to the plan.
    assert nothing - bound < 2 * (nothing - found)
