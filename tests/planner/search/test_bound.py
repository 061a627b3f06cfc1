"""The bound against the best of all plans of tiny problems, and against plans that the search finds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pytest
from numpy.typing import NDArray

from stockplan.planner.core.search.bound import STEPS, climbed, lower_bound
from stockplan.planner.core.search.problem import Budget, SearchItems, SearchLine, SearchLot, SearchProblem
from stockplan.planner.core.search.relaxed import relaxed_of
from stockplan.planner.core.search.search import random_start, search
from stockplan.planner.core.search.visits import together
from tests.planner.search.plain import plain_cost
from tests.planner.search.small_problems import SHIFTS, every_plan, random_problem, with_items


def best_of_all(problem: SearchProblem) -> float:
    return min(plain_cost(problem, plan) for plan in every_plan(problem))


def over_the_best(problems: Iterable[SearchProblem]) -> list[tuple[int, float, float]]:
    """Number, bound and best cost of the problems whose bound is above their best plan."""
    found = []
    for number, problem in enumerate(problems):
        best = best_of_all(problem)
        bound = lower_bound(problem, above=best + 1.0, steps=40)
        found += [(number, bound, best)] if bound > best + 1e-6 else []
    return found


@pytest.mark.parametrize("hundred", range(2))
def test_bound_is_not_above_the_best_of_all_plans(hundred: int) -> None:
    # 200 tiny problems in two parts.
    seeds = range(100 * hundred, 100 * hundred + 100)
    assert over_the_best(random_problem(seed, families=2, lines=1, most=2, sizes=1) for seed in seeds) == []


def test_bound_of_two_lines_that_share_families_is_not_above_the_best() -> None:
    problems = (random_problem(seed, families=2, lines=2, most=2, sizes=1) for seed in range(40))
    # Half of them have two equal lines, which the bound takes together.
    equal = (replace(p, lines=[p.lines[0]] * 2) if at % 2 else p for at, p in enumerate(problems))
    assert over_the_best(equal) == []


def filled_to_the_minute(seed: int) -> SearchProblem:
    """Four families of two or three groups, one lot each, in a day that is just long enough for the shortest way."""
    rng = np.random.default_rng(seed)
    group = np.append(rng.permutation([0, 0, 1, int(rng.integers(1, 3))]), 3)
    way = rng.integers(10, 40, (4, 4))
    np.fill_diagonal(way, 0)
    # Nothing in the line: nothing to clean away.
    way[3] = 0
    unit_min, holds = rng.integers(5, 12, 4).astype(float), int(rng.integers(0, 4))
    setup_min = way[group[:, None], group[None, :-1]]
    day_min = int(unit_min.sum()) + min(
        sum(setup_min[before, after] for before, after in pairwise((holds, *order))) for order in permutations(range(4))
    )
    arrival_day = np.repeat([[0, 1]], [day_min + 1, 100], axis=1)
    line = SearchLine(setup_min, np.zeros((5, 5)), unit_min, arrival_day, holds=holds)
    none = np.zeros(4, dtype=np.int64)
    return SearchProblem([line], np.arange(4), [np.array([[10.0], [0.0]])] * 4, none, none)


def test_bound_that_counts_visits_lets_the_shortest_way_fit() -> None:
    """Everything can be made, so a bound above nothing charges the way too dear: at 1.1 of it 16 of the 20 are."""
    problems = [filled_to_the_minute(seed) for seed in range(20)]
    assert [lower_bound(problem, above=1.0, steps=40) for problem in problems] == pytest.approx([0.0] * 20, abs=1e-6)
    assert best_of_all(problems[0]) == 0.0


def of_one_finish(seed: int, **fields: int) -> SearchProblem:
    """Families that all arrive on the same days, of two groups with long setups between them."""
    problem = random_problem(seed, most=2, sizes=1, **fields)
    group = np.arange(len(problem.release_min)) % 2
    far = np.append(group, 2)[:, None] != group
    far[-1] = False
    lines = [replace(line, setup_min=line.setup_min // 4 + 25 * far) for line in problem.lines]
    return replace(problem, lines=lines, finish=np.zeros(len(group), dtype=np.int64))


def one_day(setup_min: NDArray[np.int64]) -> SearchProblem:
    """A day of 60 min on a line that holds the first family: a unit of each takes 15 min, and costs 10 if not made."""
    families = setup_min.shape[1]
    line = SearchLine(
        setup_min=setup_min,
        setup_cost=np.zeros((families + 1, families + 1)),
        unit_min=np.full(families, 15.0),
        arrival_day=np.repeat([[0, 1]], [61, 40], axis=1),
        holds=0,
    )
    none = np.zeros(families, dtype=np.int64)
    return SearchProblem([line], np.arange(families), [np.array([[10.0], [0.0]])] * families, none, none)


def test_bound_charges_a_visit_for_the_way_to_another_group() -> None:
    # Four units would fit; two of them are of another group, 30 min away. By hand, with a part z of a visit:
    # 30 + 60 z <= 60 makes 2 + 2 z = 3 of the 4.
    group = np.array([0, 0, 1, 1, 2])
    problem = one_day(np.where(group[:, None] == group[:4], 0, 30))
    assert best_of_all(problem) == 20.0
    assert lower_bound(problem, above=20.0) == pytest.approx(10.0, abs=0.1)


def test_bound_charges_the_way_up_to_lighter_shades() -> None:
    # The line holds the darkest of three shades: 15 min up to the next, 30 to the lightest. By hand, with a part z of
    # going up to it: 15 + 30 z + 30 z <= 60 makes 1 + 2 z = 2.5 of the three.
    shade = np.array([0, 15, 30, 30])
    problem = one_day(np.maximum(shade[:3] - shade[:, None], 0))
    assert best_of_all(problem) == 10.0
    assert lower_bound(problem, above=10.0) == pytest.approx(5.0, abs=0.1)


def test_bound_lets_one_family_use_no_more_of_an_item_than_there_is() -> None:
    # Two sizes of one filament: two units of a size save 10, one saves nothing, and the item is enough for three. At a
    # price of the item alone, three quarters of two units of both would cost 5.
    line = SearchLine(
        setup_min=np.zeros((2, 1), dtype=np.int64),
        setup_cost=np.zeros((2, 2)),
        unit_min=np.ones(2),
        arrival_day=np.repeat([[0, 1]], [100, 10], axis=1),
    )
    none, item = np.zeros(1, dtype=np.int64), SearchItems(np.ones((2, 1)), np.array([3.0]))
    costs = [np.array([[10.0], [10.0], [0.0]])] * 2
    problem = SearchProblem([line], np.zeros(2, dtype=np.int64), costs, none, none, items=item)
    assert plain_cost(problem, ((SearchLot(0, (2, 1)),),)) == 10.0
    assert lower_bound(problem, above=11.0) == pytest.approx(10.0, abs=0.1)


def test_bound_lets_no_lot_take_units_back() -> None:
    # A unit saves 10 on the first day and costs 5 on the second; taken back overnight it would cost nothing.
    line = SearchLine(
        setup_min=np.zeros((2, 1), dtype=np.int64),
        setup_cost=np.zeros((2, 2)),
        unit_min=np.array([1.0]),
        arrival_day=np.repeat([[0, 1, 2]], [100, 100, 10], axis=1),
    )
    none = np.zeros(1, dtype=np.int64)
    problem = SearchProblem([line], np.arange(1), [np.array([[10.0, 0.0], [0.0, 5.0]])], none, none)
    assert best_of_all(problem) == 5.0
    assert lower_bound(problem, above=6.0) == pytest.approx(5.0, abs=0.1)


def test_bound_is_higher_for_visits() -> None:
    rises = []
    for problem in (of_one_finish(seed, families=6, lines=1) for seed in range(20)):
        relaxed, above = relaxed_of(problem), plain_cost(problem, ((),))
        plain = climbed(replace(relaxed, groups=together(6)), above=above, steps=STEPS).cost
        rises.append(lower_bound(problem, above=above) - plain)
    assert min(rises) >= -1e-9
    assert np.mean(rises) > 0.5


def test_bound_of_lines_whose_last_setup_is_early_is_not_above_the_best() -> None:
    def stopped(problem: SearchProblem) -> SearchProblem:
        return replace(problem, lines=[replace(line, setups=SHIFTS[:1]) for line in problem.lines])

    problems = [random_problem(seed, families=3, lines=1, most=2, sizes=1) for seed in range(60)]
    problems += [random_problem(seed, families=2, lines=2, most=2, sizes=1) for seed in range(20)]
    assert over_the_best(stopped(p) for p in problems) == []


def test_bound_sees_that_a_line_winds_one_lot_after_its_last_setup() -> None:
    # No family can be made before the last setup ends at minute 20. After it there is time for one unit of the first
    # or for eleven of the others, but each line winds one lot, and a family that is not made costs 10.
    line = SearchLine(
        setup_min=np.where(np.eye(4, 3, dtype=bool), 0, 10),
        setup_cost=np.zeros((4, 4)),
        unit_min=np.array([1100.0, 100.0, 100.0]),
        arrival_day=np.repeat([[0, 1, 2]], [21, 1200, 500], axis=1),
        start_up_min=50.0,
        setups=((0, 20),),
    )
    costs = [np.array([[0.0, 10.0], [0.0, 0.0]])] * 3
    once = SearchProblem([line], np.arange(3), costs, np.zeros(3, dtype=np.int64), np.zeros(3, dtype=np.int64))
    for problem, best in ((once, 20.0), (replace(once, lines=[line] * 2), 10.0)):
        assert best - 3 < lower_bound(problem, above=30.0) <= best


def test_bound_with_items_is_not_above_the_best_that_they_allow_and_sees_them() -> None:
    plain = [random_problem(seed, families=3, lines=1, most=2, sizes=1) for seed in range(60)]
    short = [with_items(problem, seed=at) for at, problem in enumerate(plain)]
    assert over_the_best(short) == []
    rises = [lower_bound(s, above=90.0) - lower_bound(p, above=90.0) for s, p in zip(short, plain, strict=True)]
    assert np.mean(rises) > 1.0


@pytest.mark.parametrize("seed", range(10))
def test_bound_is_not_above_any_plan_found_and_is_of_use(seed: int) -> None:
    problem = random_problem(seed, families=8, lines=3, most=8)
    nothing = plain_cost(problem, ((),) * 3)
    found = search(problem, random_start(problem, seed=seed), budget=Budget(moves=20_000, rounds=2)).cost
    bound = lower_bound(problem, above=found)
    assert bound <= found + 1e-6
    # It closes more than half of the way from making nothing to the plan.
    assert nothing - bound < 2 * (nothing - found)
