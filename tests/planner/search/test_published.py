"""Published optima, each from a random list by the search that makes the make list (fixtures carry the sources)."""

from __future__ import annotations

from typing import Any

import pytest

from stockplan.planner.core.search.problem import Budget
from stockplan.planner.core.search.search import random_start, search
from tests.planner.search.published import entries, pigment, round_trip, weighted_tardiness

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
