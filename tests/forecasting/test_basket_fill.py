"""The share of orders complete under periodic review, against published multi-item values and exact sums."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy import stats

from forecasting.basket_fill import Baskets, ReviewedStock, simulate_reviewed_share
from forecasting.errors import ParameterError

Published = Callable[[str], dict[str, Any]]


def _song(published: Published) -> tuple[Baskets, dict[str, Any]]:
    """Baskets in the proportions of the rates 1, 0.5 and 1.5."""
    return (
        Baskets(
            order=np.array([0, 1, 2, 3, 3, 4, 4, 5, 5]),
            item=np.array([0, 0, 1, 0, 1, 0, 1, 0, 1]),
            units=np.ones(9, int),
        ),
        published("Multi-item order fill"),
    )


def test_reviewed_share_equals_published_multi_item_value_when_reviews_are_continuous(published: Published) -> None:
    # Song (1998): 3 orders in a lead time, here of 400 days with a review on each.
    baskets, entry = _song(published)
    stock = ReviewedStock(np.array(entry["inputs"]["base_stock"]), np.array([400, 400]), np.array([1, 1]))
    found = simulate_reviewed_share(
        baskets, stock, orders_per_day=3 / 400, orders=200_000, rng=np.random.default_rng(5)
    )
    assert found.standard_error < 0.003
    assert abs(found.share - entry["expected"]["average_order_fill"]) <= 3.5 * found.standard_error


def test_reviewed_share_of_single_units_equals_poisson_sums_over_the_cycle() -> None:
    # One item, 4 units a day, level 20, lead 2, review 3 days: an order that comes after the share u of its day sees
    # Poisson demand of 4 (a + u) units, a = 2, 3, 4; averaged over u in steps of 1/200.
    baskets = Baskets(np.array([0]), np.array([0]), np.array([1]))
    stock = ReviewedStock(np.array([20]), np.array([2]), np.array([3]))
    found = simulate_reviewed_share(baskets, stock, orders_per_day=4.0, orders=400_000, rng=np.random.default_rng(6))
    inside = (np.arange(200) + 0.5) / 200
    exact = np.mean([stats.poisson.cdf(19, 4.0 * (a + inside)).mean() for a in (2, 3, 4)])
    assert abs(found.share - exact) <= 3.5 * found.standard_error
    assert found.standard_error < 0.002


def test_order_that_wants_more_than_the_level_is_never_complete() -> None:
    baskets = Baskets(np.array([0]), np.array([0]), np.array([5]))
    stock = ReviewedStock(np.array([4]), np.array([1]), np.array([1]))
    found = simulate_reviewed_share(baskets, stock, orders_per_day=0.01, orders=4000, rng=np.random.default_rng(7))
    assert found.share == 0.0


def test_daily_moments_are_those_of_compound_poisson() -> None:
    # Two orders, 3 a day: item 0 is wanted once with 2 units and once with 1, so 1.5 x (2 + 1) and 1.5 x (4 + 1).
    baskets = Baskets(np.array([0, 1, 1]), np.array([0, 0, 1]), np.array([2, 1, 4]))
    mean, variance = baskets.daily_moments(orders_per_day=3.0, n_items=3)
    np.testing.assert_allclose(mean, [4.5, 6.0, 0.0])
    np.testing.assert_allclose(variance, [7.5, 24.0, 0.0])


def test_baskets_without_units_are_refused() -> None:
    with pytest.raises(ParameterError, match="at least one unit"):
        Baskets(np.array([0]), np.array([0]), np.array([0]))
    with pytest.raises(ParameterError, match="equal columns"):
        Baskets(np.array([0, 1]), np.array([0]), np.array([1]))
