"""Levels from one number: against exhaustive search, by law, and by simulating orders."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from scipy import stats

from forecasting.basket_fill import Baskets
from stockplan.planner.core.basket_model import TargetInput, basket_model
from stockplan.planner.core.order_target import (
    order_target,
    simulated_share,
    verified_order_target,
)

# Five orders of one unit a line on three SKUs: A; A B; B C; C; A B C.
SMALL = Baskets(
    order=np.array([0, 1, 1, 2, 2, 3, 4, 4, 4]), item=np.array([0, 0, 1, 1, 2, 2, 0, 1, 2]), units=np.ones(9, int)
)
VALUE = np.array([10.0, 25.0, 4.0])


def _small(**fields: Any) -> TargetInput:
    figures: dict[str, Any] = {"baskets": SMALL, "orders_per_day": 5.0, "value": VALUE}
    days = {"lead_days": np.array([1, 1, 1]), "review_days": np.array([1, 1, 1])}
    return TargetInput(**(figures | days | fields))


def _exhaustive(share: float) -> float:
    """Least stock value of all levels 0..12: each SKU is wanted by three of the five orders of a day, Poisson.

    An order sees the demand of a lead time of one day and of half of its own day: 3 x 1.5 units.
    """
    counts = np.arange(13)
    there = stats.poisson.cdf(counts - 1, 4.5)  # one unit is there if at most x - 1 were taken
    held = np.array([stats.poisson.cdf(np.arange(x), 4.5).sum() for x in counts])
    best = np.inf
    for x in itertools.product(counts, repeat=3):
        a, b, c = there[list(x)]
        if (a + a * b + b * c + c + a * b * c) / 5 >= share:
            best = min(best, float(held[list(x)] @ VALUE))
    return best


@pytest.mark.parametrize("share", [0.5, 0.7, 0.8, 0.9, 0.95])
def test_stock_value_is_that_of_exhaustive_search(share: float) -> None:
    found = order_target(_small(), share)
    assert found.share >= share
    assert found.stock_value == pytest.approx(_exhaustive(share), rel=1e-9)


def _shop(seed: int = 3, *, skus: int = 60, orders: int = 3000) -> TargetInput:
    """Baskets of one to five lines, a few SKUs in most of them."""
    rng = np.random.default_rng(seed)
    popularity = rng.lognormal(0, 1.1, skus)
    size = np.minimum(1 + rng.poisson(0.6, orders), 5)
    lines = [rng.choice(skus, size=n, replace=False, p=popularity / popularity.sum()) for n in size]
    item = np.concatenate(lines)
    return TargetInput(
        baskets=Baskets(np.repeat(np.arange(orders), size), item, rng.geometric(0.5, size=len(item))),
        orders_per_day=100.0,
        value=rng.uniform(5, 40, skus),
        lead_days=np.full(skus, 2),
        review_days=rng.integers(1, 12, skus),
    )


@pytest.mark.parametrize("share", [0.85, 0.93, 0.97])
def test_simulated_share_is_the_one_asked_for(share: float) -> None:
    found = verified_order_target(_shop(), share)
    assert found.simulated.orders >= 20_000
    assert abs(found.simulated.share - share) <= 0.005
    # Other draws of orders agree with the one that the levels were corrected by.
    again = simulated_share(_shop(), found.target.levels, seed=99)
    assert abs(again.share - share) <= 0.005 + 2 * again.standard_error


def test_share_between_what_whole_spools_can_give_is_reached_and_not_missed() -> None:
    # One SKU, asked for in threes: a spool more or less moves the share by points.
    given = TargetInput(
        baskets=Baskets(np.arange(8), np.zeros(8, dtype=int), np.array([3, 3, 3, 3, 3, 3, 3, 6])),
        orders_per_day=1.0,
        value=np.array([10.0]),
        lead_days=np.array([2]),
        review_days=np.array([3]),
    )
    for share in (0.80, 0.85, 0.90, 0.95):
        found = verified_order_target(given, share)
        assert found.simulated.share >= share - 0.0025
        fewer = simulated_share(given, found.target.levels - 3, seed=0)
        assert fewer.share < share


def test_value_is_below_that_of_one_cycle_service_for_all() -> None:
    found = order_target(_shop(), 0.95)
    assert found.stock_value < 0.97 * found.single_sku_value


def test_higher_share_costs_more() -> None:
    values = [order_target(_shop(), share).stock_value for share in (0.8, 0.9, 0.95, 0.98)]
    assert values == sorted(values)
    assert values[0] < values[-1]


def test_no_exchange_of_single_spools_lowers_the_value() -> None:
    given = _shop(skus=12, orders=200)
    found = order_target(given, 0.9)
    model = basket_model(given)
    for down, up in itertools.permutations(range(12), 2):
        tried = found.levels.copy()
        tried[down], tried[up] = tried[down] - 1, tried[up] + 1
        if tried[down] >= 0 and model.share(tried) >= 0.9:
            assert model.value_of(tried) >= found.stock_value - 1e-9


def test_dear_sku_is_held_less_than_a_cheap_one_with_the_same_demand() -> None:
    baskets = Baskets(order=np.arange(200), item=np.arange(200) % 2, units=np.ones(200, int))
    given = TargetInput(baskets, 10.0, np.array([100.0, 1.0]), np.array([2, 2]), np.array([5, 5]))
    dear, cheap = order_target(given, 0.9).levels
    assert dear < cheap


def test_cycle_service_leads_back_to_the_level() -> None:
    given = _shop()
    found = order_target(given, 0.95)
    mean, variance = given.baskets.daily_moments(orders_per_day=100.0, n_items=60)
    days = given.lead_days + given.review_days
    wanted = variance > mean * 1.001
    size, success = (mean**2 * days)[wanted] / (variance - mean)[wanted], (mean / variance)[wanted]
    assert wanted.sum() > 50
    np.testing.assert_array_equal(stats.nbinom.ppf(found.cycle_service[wanted], size, success), found.levels[wanted])


def test_sku_in_no_basket_gets_the_cycle_service_of_all() -> None:
    found = order_target(_small(value=np.append(VALUE, 7.0), lead_days=np.full(4, 1), review_days=np.full(4, 1)), 0.9)
    # Six units of mean demand over lead time and review, and 4.5 when an order looks.
    level = stats.poisson.ppf(found.cycle_service[3] + np.array([-0.01, 0.0]), 6.0)
    one = stats.poisson.cdf(level - 1, 4.5)
    below, reached = (2 * one + 2 * one**2 + one**3) / 5
    assert below < 0.9 <= reached
    assert found.levels[3] == 0


def test_share_beyond_all_levels_gives_the_highest_and_says_what_they_reach() -> None:
    found = order_target(_small(), 1.0)
    # 99.95 % of six units of mean demand, and one unit for the largest line on top.
    np.testing.assert_array_equal(found.levels, stats.poisson.ppf(0.9995, 6.0) + np.ones(3))
    assert 0.999 < found.share < 1.0
