"""Published optima, each from a random list by the search that makes the make list (fixtures carry the sources)."""

from __future__ import annotations

from typing import Any

import pytest

from stockplan.planner.core.search.problem import Budget, SearchLot
from stockplan.planner.core.search.search import random_start, search
from tests.planner.search.published import cyclic, entries, pigment, round_trip, weighted_tardiness

BUDGET = Budget(moves=100_000, rounds=20)


def best_cost(problem: Any, *, budget: Budget = BUDGET) -> float:
    return search(problem, random_start(problem, seed=7), budget=budget).cost


@pytest.mark.parametrize("entry", entries("Pigment"), ids=lambda e: e["name"][-14:])
def test_pigment_sequencing_reaches_the_optimum(entry: dict[str, Any]) -> None:
    inputs = entry["inputs"]
    problem = pigment(inputs["demand"], inputs["h"], inputs["changeover"])
    assert best_cost(problem) == pytest.approx(entry["expected"]["optimal_cost"])


def test_csplib_worked_example_reaches_the_optimum() -> None:
    (entry,) = entries("Discrete lot sizing")
    inputs = entry["inputs"]
    assert best_cost(pigment(inputs["demand"], inputs["h"], inputs["changeover"])) == pytest.approx(10)


@pytest.mark.parametrize("entry", entries("ATSP"), ids=lambda e: e["name"][5:10])
def test_asymmetric_tour_reaches_the_optimum(entry: dict[str, Any]) -> None:
    problem = round_trip(entry["inputs"]["matrix"])
    assert best_cost(problem, budget=Budget(moves=200_000, rounds=30)) == pytest.approx(entry["expected"]["optimal"])


@pytest.mark.parametrize("entry", [*entries("Single-machine"), *entries("1||")], ids=lambda e: e["name"][-26:])
def test_weighted_tardiness_reaches_the_published_value(entry: dict[str, Any]) -> None:
    inputs = entry["inputs"]
    problem = weighted_tardiness(inputs["p"], inputs["w"], inputs["d"])
    assert best_cost(problem) == pytest.approx(entry["expected"]["optimal"])


def test_the_published_cyclic_plan_costs_what_is_stated() -> None:
    # Checks the translation alone; no search sees this plan. Doll & Whybark, Management Science 20 (1973) 50-55, with
    # item 9 every second period; Axsater, Inventory Control (2015), Table 7.3. The first periods make it fit.
    every_of, first_of = (8, 2, 2, 1, 2, 4, 8, 1, 2, 2), (0, 0, 0, 0, 1, 2, 4, 0, 1, 0)
    (entry,) = entries("Bomberger")
    problem = cyclic(entry["inputs"], period_days=23.42442843250993)
    plan: list[list[SearchLot]] = [[] for _ in problem.lines]
    for item, (every, first) in enumerate(zip(every_of, first_of, strict=True)):
        for period in range(first, 8, every):
            plan[period] += [SearchLot(8 * item + (period + k) % 8, (1,)) for k in range(every)]
    cost = search(problem, tuple(map(tuple, plan)), budget=Budget(moves=1, rounds=0)).cost
    assert cost == pytest.approx(entry["expected"]["total"], abs=1e-4)
