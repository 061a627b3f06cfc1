"""Variance of demand: one period's spread shrunk to a pooled law, and its growth over cumulated periods.

One period of SKU s has variance s2. Over h periods that share one uncertain level the cumulated demand has

    Var(D_h) = h s2 (1 + k h),

h s2 from the periods themselves and k h^2 s2 from the level, whose own variance is k s2 (for simple exponential
smoothing in its steady state k = a / (2 - a)). With factors f_t per period, h becomes G_h = sum f_t.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Events of its own after which a SKU's spread counts as much as the pooled law; a rule of ours.
HALF_TRUST_EVENTS = 8.0
FEWEST_EVENTS_FOR_LAW = 5
FEWEST_SKUS_FOR_SLOPE = 8


@dataclass(frozen=True)
class VarianceLaw:
    """Pooled mean-variance power law: variance = scale x mean ** power.

    References
    ----------
    Taylor, L.R. (1961), Aggregation, variance and the mean, Nature 189, 732-735 (from memory).
    """

    scale: float
    power: float

    def variance_at(self, mean: FloatArray) -> FloatArray:
        """Return the variance of one period, never below the mean (Poisson)."""
        law = self.scale * np.power(np.maximum(mean, 0.0), self.power, where=mean > 0, out=np.zeros_like(mean))
        return np.maximum(law, mean)


def fit_variance_law(*, mean: FloatArray, variance: FloatArray, n_events: FloatArray) -> VarianceLaw:
    """Fit the power law over the SKUs with enough demands, each weighted by its number of demands.

    Notes
    -----
    Without any SKU that has enough demands the law is Poisson (scale 1, power 1); with too few SKUs or nearly equal
    means for a slope the power is 1. After the regression of logarithms the scale is set so that the law has the
    same total variance as the SKUs.
    """
    is_used = (n_events >= FEWEST_EVENTS_FOR_LAW) & (mean > 0) & (variance > 0)
    if not is_used.any():
        return VarianceLaw(scale=1.0, power=1.0)
    x, y, weight = np.log(mean[is_used]), np.log(variance[is_used]), n_events[is_used]
    centre = np.average(x, weights=weight)
    spread = np.average((x - centre) ** 2, weights=weight)
    power = 1.0
    if is_used.sum() >= FEWEST_SKUS_FOR_SLOPE and spread > 1e-3:
        power = float(np.clip(np.average((x - centre) * y, weights=weight) / spread, 1.0, 2.0))
    ratio = variance[is_used] / np.power(mean[is_used], power)
    return VarianceLaw(scale=float(np.average(ratio, weights=weight)), power=power)


def spread_from_law(
    *, rate: FloatArray, mean: FloatArray, variance: FloatArray, n_events: FloatArray, law: VarianceLaw
) -> FloatArray:
    """Return the variance of one period at a rate: that of the law there, times the SKU's own departure from it.

    The departure is the own variance over that of the law at the own mean, weighted by the demands of the SKU against
    a departure of 1: a SKU whose rate moves keeps its character.
    """
    trust = n_events / (n_events + HALF_TRUST_EVENTS)
    at_mean = law.variance_at(mean)
    departure = np.divide(variance, at_mean, out=np.ones_like(at_mean), where=at_mean > 0)
    return np.maximum(law.variance_at(rate) * (trust * departure + 1.0 - trust), rate)


def cumulated_variance(*, one_period: FloatArray, periods: FloatArray, level_growth: float) -> FloatArray:
    """Return Var(D_h) = G s2 (1 + k G) for arrays that broadcast.

    Parameters
    ----------
    one_period : s2. periods : G_h, the sum of the factors of the next h periods. level_growth : k >= 0.
    """
    return periods * one_period * (1.0 + level_growth * periods)
