"""Misses against sums over scipy's probabilities, a hand calculation and a simulation of first due, first served."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from stockplan.planner.core.shortage import (
    Demand,
    cumulated,
    expected_shortage,
    late_units,
    miss_tables,
    missed_units,
    total_misses,
)

FAR = np.arange(4000)


def _sum_of_shortages(pmf: np.ndarray, x: int) -> float:
    return float(np.sum(np.maximum(FAR - x, 0) * pmf))


@pytest.mark.parametrize("x", [0, 1, 5, 20, 80])
@pytest.mark.parametrize("mean", [0.05, 1.0, 7.5, 60.0])
def test_expected_shortage_equals_the_sum_over_poisson_probabilities(mean: float, x: int) -> None:
    # Reference: scipy.stats.poisson.
    found = expected_shortage(np.array(x), mean=np.array(mean), variance=np.array(mean))
    assert float(found) == pytest.approx(_sum_of_shortages(stats.poisson.pmf(FAR, mean), x), abs=1e-9)


@pytest.mark.parametrize("x", [0, 1, 5, 20, 80])
@pytest.mark.parametrize(("mean", "variance"), [(0.05, 0.2), (1.0, 1.5), (7.5, 40.0), (60.0, 300.0)])
def test_expected_shortage_equals_the_sum_over_negative_binomial_probabilities(
    mean: float, variance: float, x: int
) -> None:
    # Reference: scipy.stats.nbinom, whose p is the success probability: mean = r (1 - p) / p.
    pmf = stats.nbinom.pmf(FAR, mean**2 / (variance - mean), mean / variance)
    found = expected_shortage(np.array(x), mean=np.array(mean), variance=np.array(variance))
    assert float(found) == pytest.approx(_sum_of_shortages(pmf, x), abs=1e-8)


def test_expected_shortage_of_a_backlog_is_the_mean_and_the_backlog() -> None:
    assert float(expected_shortage(np.array(-3), mean=np.array(2.0), variance=np.array(5.0))) == pytest.approx(5.0)


def _certain(late: int, due: list[int]) -> Demand:
    """Demand that is all in the books."""
    none = np.zeros((1, len(due)))
    return Demand(np.array([late]), np.cumsum([due], axis=1), none, none)


def test_missed_units_of_certain_demand_are_counted_by_hand() -> None:
    # 2 late, then 3 due on each of three days; 4 on the shelf, 6 more for day 3 (index 2).
    demand = _certain(2, [3, 3, 3])
    supply = cumulated([(2, 6)], first=4, days=3)[None, :]
    # Day 1: late ones take 2 of 4, so 1 of 3 misses. Day 2: nothing left, all 3 miss. Day 3: 10 spools for 11 units.
    assert missed_units(supply, demand)[0].tolist() == [1, 3, 1]
    assert late_units(supply, demand)[0].tolist() == [1, 4, 1]


def test_total_misses_count_each_further_day_of_a_late_unit() -> None:
    demand = _certain(2, [3, 3, 3])
    supply = cumulated([(2, 6)], first=0, days=3)[None, :]
    # By hand. Day 1: 3 miss, 2 wait on. Day 2: 3 miss, 5 wait on. Day 3: 6 spools for 11: 3 miss, 2 of the older wait.
    found = total_misses(supply, demand, day_weight=np.ones(3), late_day_weight=0.1)
    assert float(found[0]) == pytest.approx(9 + 0.1 * (2 + 5 + 2))


def test_missed_units_equal_a_simulation_of_first_due_first_served() -> None:
    rng = np.random.default_rng(20270301)
    daily, supply = rng.poisson(1.5, size=(200_000, 4)), np.array([2, 2, 6, 6])
    owed = np.cumsum(daily, axis=1)
    before = np.concatenate([np.zeros((len(owed), 1)), owed[:, :-1]], axis=1)
    # Of what is due on a day that is missed which comes after the supply and is not older than the day.
    missed = np.minimum(np.maximum(owed - supply, 0), owed - before)
    mean = 1.5 * np.arange(1, 5)[None, :]
    found = missed_units(supply[None, :], Demand(np.array([0]), np.zeros((1, 4), dtype=int), mean, mean))
    # 200,000 paths: standard error below 0.003 units.
    assert found[0] == pytest.approx(missed.mean(axis=0), abs=0.012)


def test_miss_tables_equal_the_function_they_tabulate() -> None:
    mean = np.outer([0.1, 2.0, 30.0], np.arange(1, 6))
    demand = Demand(np.array([0, 3, 1]), np.cumsum(np.ones((3, 5), dtype=int), axis=1), mean, mean * [[1], [2], [3]])
    supply = np.array([[0, 0, 1, 1, 1], [2, 5, 5, 9, 30], [0, 40, 80, 90, 400]])
    tables = miss_tables(supply[:, 0], demand, late_day_weight=0.2)
    weights = np.array([1.0, 1.0, 0.8, 0.5, 0.2])
    found = [table.total(row, weights=weights) for table, row in zip(tables, supply, strict=True)]
    # The table ends six standard deviations above the mean: what lies beyond is below a millionth of a spool here.
    assert found == pytest.approx(
        total_misses(supply, demand, day_weight=weights, late_day_weight=0.2).tolist(), abs=1e-6
    )


def test_miss_table_by_lot_equals_adding_the_lot_to_the_supply() -> None:
    mean = 2.0 * np.arange(1, 6)[None, :]
    demand = Demand(np.array([1]), np.zeros((1, 5), dtype=int), mean, 2 * mean)
    table = miss_tables(np.array([3]), demand, late_day_weight=0.1)[0]
    supply, weights = np.array([3, 3, 3, 3, 3]), np.ones(5)
    by_lot = table.by_lot(supply, from_day=2, most=4, weights=weights[2:])
    with_lot = table.total(cumulated([(2, 4)], first=3, days=5), weights=weights)
    assert by_lot[0] - by_lot[4] == pytest.approx(table.total(supply, weights=weights) - with_lot)


def test_demand_refuses_a_cumulated_mean_that_falls() -> None:
    mean = np.array([[2.0, 1.0]])
    with pytest.raises(ValueError, match="falls"):
        Demand(np.array([0]), np.zeros((1, 2), dtype=int), mean, mean)
