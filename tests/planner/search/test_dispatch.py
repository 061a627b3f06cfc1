"""Plans that the search begins with: they can be made, and are better than none."""

from __future__ import annotations

import pytest

from stockplan.planner.core.search.dispatch import best_start, dispatched
from stockplan.planner.core.search.layout import layout_of
from stockplan.planner.core.search.problem import SearchProblem
from stockplan.planner.core.search.search import check_plan
from tests.planner.search.plain import plain_cost
from tests.planner.search.small_problems import is_stocked, random_problem, with_items


def problem_of(seed: int) -> SearchProblem:
    problem = random_problem(seed, families=8, lines=3, most=6)
    return with_items(problem, seed=seed) if seed % 2 else problem


@pytest.mark.parametrize("seed", range(12))
def test_dispatched_plans_can_be_made_of_what_there_is(seed: int) -> None:
    problem = problem_of(seed)
    plans = list(dispatched(problem, above=500.0))
    assert len(plans) > 1
    for plan in plans:
        check_plan(layout_of(problem), plan)
        assert is_stocked(problem, plan)


def test_best_start_closes_most_of_the_way_that_any_plan_closes() -> None:
    nothing, start = 0.0, 0.0
    for seed in range(12):
        problem = problem_of(seed)
        empty = ((),) * 3
        nothing += plain_cost(problem, empty)
        start += plain_cost(problem, best_start(problem, empty))
    assert start < 0.8 * nothing
