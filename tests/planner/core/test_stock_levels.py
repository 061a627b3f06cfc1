"""Levels from a mixture of two ways in which an SKU may sell, against scipy's probabilities."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from forecasting.distribution import NegativeBinomial
from forecasting.mixture import Mixture
from stockplan.planner.core.stock_levels import StockLevels, stock_levels

SHARE = 0.05
QUIET, BUSY = stats.poisson(2.0), stats.poisson(30.0)


def _levels(target: float, *, is_stocked: bool = True) -> StockLevels:
    """One day of lead time and one of review; over the two days 2 units are expected, or 30 with a share of 5 %."""
    mean = np.array([[[1.0, 2.0]], [[15.0, 30.0]]])
    return stock_levels(
        demand=Mixture(np.array([[[1 - SHARE]], [[SHARE]]]), NegativeBinomial(mean, mean)),
        lead_days=np.array([1.0]),
        review_interval_days=1.0,
        run_interval_days=np.array([1.0]),
        is_stocked=np.array([is_stocked]),
        target=target,
    )


@pytest.mark.parametrize("target", [0.5, 0.9, 0.97, 0.99])
def test_level_is_the_quantile_of_the_mixture(target: float) -> None:
    level = _levels(target).order_up_to[0]
    reached = [(1 - SHARE) * QUIET.cdf(x) + SHARE * BUSY.cdf(x) for x in (level - 1, level)]
    assert reached[0] < target <= reached[1]


def test_safety_stock_is_the_level_above_the_mean_of_the_mixture() -> None:
    stock = _levels(0.97)
    assert stock.safety_stock[0] == pytest.approx(stock.order_up_to[0] - (0.95 * 2.0 + 0.05 * 30.0))


def test_level_of_a_sku_made_to_order_is_none() -> None:
    assert _levels(0.97, is_stocked=False).order_up_to[0] == 0
