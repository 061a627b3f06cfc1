"""The compiled search against a plain reading of what a plan costs, and its laws."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pytest

from stockplan.planner.core.search.problem import (
    Budget,
    SearchItems,
    SearchLine,
    SearchLot,
    SearchPlan,
    SearchProblem,
)
from stockplan.planner.core.search.search import random_start, search
from tests.planner.search.invented import street_minutes, tour_minutes
from tests.planner.search.plain import plain_cost
from tests.planner.search.published import round_trip
from tests.planner.search.small_problems import SHIFTS, every_plan, is_stocked, random_problem, with_items

BUDGET = Budget(moves=20_000, rounds=2)
NONE_TRIED = Budget(moves=1, rounds=0)
ONE = tuple((lo, hi, 1) for lo, hi in SHIFTS)


@pytest.mark.parametrize("seed", range(12))
def test_cost_equals_a_plain_computation(seed: int) -> None:
    problem = random_problem(seed, families=6, lines=3)
    start = random_start(problem, seed=seed)
    assert search(problem, start, budget=NONE_TRIED).cost == pytest.approx(plain_cost(problem, start))
    found = search(problem, start, budget=BUDGET)
    assert found.cost == pytest.approx(plain_cost(problem, found.plan))
    assert found.cost < plain_cost(problem, start)


@pytest.mark.parametrize("seed", range(12))
def test_cost_with_few_crews_equals_a_plain_computation(seed: int) -> None:
    # One setup at a time, two of an evening; on two of three lines at once they would clash.
    crews = tuple((lo, hi, size) for lo, hi in SHIFTS for lo, hi, size in ((lo, lo + 40, 1), (lo + 40, hi, 2)))
    free = random_problem(seed, families=6, lines=3)
    problem = replace(free, crews=crews)
    start = random_start(problem, seed=seed)
    assert search(problem, start, budget=NONE_TRIED).cost == pytest.approx(plain_cost(problem, start))
    found = search(problem, start, budget=BUDGET)
    assert found.cost == pytest.approx(plain_cost(problem, found.plan))
    assert plain_cost(free, found.plan) <= found.cost + 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_descent_changes_a_plan_by_moves_that_gain_enough_and_by_no_others(seed: int) -> None:
    problem = random_problem(seed, families=6, lines=3)
    start = random_start(problem, seed=seed)
    cost, gain = plain_cost(problem, start), 10.0
    dear, found = (search(problem, start, budget=replace(BUDGET, least_gain=least)) for least in (1e6, gain))
    assert (dear.plan, dear.cost) == (start, pytest.approx(cost))
    assert plain_cost(problem, found.plan) == pytest.approx(found.cost)
    assert found.cost < cost - gain
    # What it ends with has no resize or drop of one lot left that gains so much.
    for line, lots in enumerate(found.plan):
        for at in range(len(lots)):
            without = (*found.plan[:line], (*lots[:at], *lots[at + 1 :]), *found.plan[line + 1 :])
            assert plain_cost(problem, without) > found.cost - gain - 1e-6


def test_crews_change_what_is_the_best_plan() -> None:
    free = [random_problem(seed, families=6, lines=3) for seed in range(6)]
    costs = [search(replace(p, crews=crews), ((),) * 3, budget=BUDGET).cost for p in free for crews in (ONE, ())]
    assert sum(costs[::2]) > sum(costs[1::2])


@pytest.mark.parametrize("seed", range(12))
def test_cost_equals_a_plain_computation_where_only_the_order_is_open(seed: int) -> None:
    problem = random_problem(seed, families=10, lines=3, most=1, sizes=1)
    # The second of four rounds begins in random order.
    found = search(problem, random_start(problem, seed=seed), budget=Budget(moves=10_000, rounds=4))
    assert found.cost == pytest.approx(plain_cost(problem, found.plan))


@pytest.mark.parametrize("seed", range(8))
def test_the_best_of_all_orders_on_two_lines_is_found(seed: int) -> None:
    problem = random_problem(seed, families=5, lines=2, most=1, sizes=1)
    best = min(plain_cost(problem, plan) for plan in every_order(problem))
    found = search(problem, random_start(problem, seed=seed), budget=BUDGET)
    assert found.cost == pytest.approx(best)


def every_order(problem: SearchProblem) -> Iterator[SearchPlan]:
    """Every order of one lot a family on two lines that can make them."""
    families = [f for f in range(5) if any(np.isfinite(line.unit_min[f]) for line in problem.lines)]
    for order in permutations(families):
        for cut in range(len(order) + 1):
            parts = (order[:cut], order[cut:])
            if all(np.isfinite(problem.lines[at].unit_min[f]) for at in (0, 1) for f in parts[at]):
                yield tuple(tuple(SearchLot(f, (1,)) for f in part) for part in parts)


@pytest.mark.parametrize("seed", range(6))
def test_the_shortest_round_trip_is_found(seed: int) -> None:
    minutes = tour_minutes(seed, cities=9)
    problem = round_trip(minutes.tolist())
    shortest = min(
        sum(minutes[a, b] for a, b in pairwise((0, *order, 0))) for order in permutations(range(1, len(minutes)))
    )
    assert search(problem, random_start(problem, seed=seed), budget=BUDGET).cost == pytest.approx(shortest)


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_rounds_in_random_order_find_what_rounds_from_the_best_do_not(seed: int) -> None:
    # Rounds that all go on from the best order end at 1443. That 1375 is the shortest was proved by the LP with cuts.
    problem = round_trip(street_minutes(1, cities=48).tolist())
    start = random_start(problem, seed=seed)
    assert search(problem, start, budget=Budget(moves=20_000, rounds=16, seed=seed)).cost == pytest.approx(1375)


def test_an_empty_plan_has_no_order_to_search() -> None:
    problem = random_problem(1, most=1, sizes=1)
    empty = ((),) * len(problem.lines)
    assert search(problem, empty, budget=BUDGET).plan == empty


@pytest.mark.parametrize("most", [1, 4])
def test_equal_inputs_give_an_equal_plan(most: int) -> None:
    problem = random_problem(3, families=8, lines=3, most=most)
    start = random_start(problem, seed=1)
    assert search(problem, start, budget=BUDGET) == search(problem, start, budget=BUDGET)


def test_more_work_is_never_worse() -> None:
    # Both begin with the same draws; the rounds after the first can only keep or better the best plan.
    problem = random_problem(5, families=8, lines=2)
    start = random_start(problem, seed=1)
    costs = [search(problem, start, budget=Budget(moves=3_000, rounds=n)).cost for n in (0, 1, 4, 16)]
    assert costs == sorted(costs, reverse=True)


@pytest.mark.parametrize("seed", range(6))
def test_a_search_never_ends_above_where_it_starts(seed: int) -> None:
    # A move that is not wholly undone, or whose cost is not what it changes, leaves a worse plan taken for the best.
    problem = random_problem(seed, families=12, lines=2, most=8)
    first = search(problem, random_start(problem, seed=seed), budget=BUDGET)
    again = search(problem, first.plan, budget=Budget(moves=1_000, rounds=40, seed=2))
    assert again.cost <= first.cost + 1e-6


def test_an_empty_plan_is_filled() -> None:
    problem = random_problem(1)
    empty = ((),) * len(problem.lines)
    assert search(problem, empty, budget=BUDGET).cost < plain_cost(problem, empty)


def one_line(**fields: object) -> SearchProblem:
    """Two families of one SKU; a unit of either that arrives by day 0 saves 5 on it, of at most two."""
    line = SearchLine(
        setup_min=np.array([[0, 10], [10, 0], [0, 0]]),
        setup_cost=np.zeros((3, 3)),
        unit_min=np.array([10.0, 10.0]),
        arrival_day=(np.arange(60) > 30).astype(int)[None],
    )
    tables = [np.array([[10.0], [5.0], [0.0]])] * 2
    return SearchProblem([replace(line, **fields)], np.arange(2), tables, np.zeros(2, int), np.zeros(2, int))


def test_plan_of_one_line_is_the_one_found_by_hand() -> None:
    # 30 minutes until the day closes: two units of one family and, after a setup of 10, none of the other.
    assert search(one_line(), ((),), budget=BUDGET).cost == 10.0
    # Without setups three units fit: 5 is left.
    assert search(one_line(setup_min=np.zeros((3, 2), int)), ((),), budget=BUDGET).cost == 5.0


def test_what_a_line_holds_at_the_end_costs() -> None:
    cost = np.zeros((3, 3))
    cost[0, 2], cost[2, 2] = 1.0, 50.0
    found = search(one_line(setup_cost=cost), ((),), budget=BUDGET)
    # Family 1 last: nothing to pay for it; 0 would cost 1, an empty line 50.
    assert found.cost == 10.0
    assert found.plan[0][-1].family == 1


@pytest.mark.parametrize("seed", range(12))
def test_plan_takes_no_more_of_an_item_than_there_is(seed: int) -> None:
    problem = with_items(random_problem(seed, families=6, lines=3), seed=seed)
    found = search(problem, ((),) * 3, budget=BUDGET)
    assert is_stocked(problem, found.plan)
    assert found.cost == pytest.approx(plain_cost(problem, found.plan))


def test_plan_of_tiny_problems_with_items_is_the_best_of_all() -> None:
    drawn = [with_items(random_problem(s, families=3, lines=1, most=2, sizes=1), seed=s) for s in range(20)]
    # Where every SKU is one unit the search only orders what must be made.
    problems = [problem for problem in drawn if max(map(len, problem.costs)) > 2]
    best = [min(plain_cost(problem, plan) for plan in every_plan(problem)) for problem in problems]
    assert [search(problem, ((),), budget=BUDGET).cost for problem in problems] == pytest.approx(best)


def test_plan_that_takes_more_than_there_is_is_refused() -> None:
    problem = replace(one_line(), items=SearchItems(np.array([[0.0], [0.5]]), np.array([0.9])))
    with pytest.raises(ValueError, match=r"item 0: 1 are taken of 0\.9"):
        search(problem, ((SearchLot(1, (2,)),),), budget=BUDGET)


def test_items_that_do_not_fit_the_skus_are_refused() -> None:
    with pytest.raises(ValueError, match=r"use of 1 items by 2 SKUs has shape \(1, 1\)"):
        replace(one_line(), items=SearchItems(np.ones((1, 1)), np.ones(1)))


@pytest.mark.parametrize(
    ("lot", "message"),
    [
        (SearchLot(0, (3,)), "SKU 0 is made 3 times, at most 2 may be"),
        (SearchLot(0, (0,)), "lot of family 0 has units"),
        (SearchLot(1, (1,)), "line 0 cannot make family 1"),
    ],
)
def test_a_plan_that_cannot_be_made_is_refused(lot: SearchLot, message: str) -> None:
    problem = one_line(unit_min=np.array([10.0, np.inf]))
    with pytest.raises(ValueError, match=message):
        search(problem, ((lot,),), budget=BUDGET)


def test_a_problem_without_a_table_for_each_sku_is_refused() -> None:
    problem = one_line()
    with pytest.raises(ValueError, match="every one of the 2 SKUs needs a cost table"):
        replace(problem, costs=problem.costs[:1])
