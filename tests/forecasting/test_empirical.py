"""Empirical distributions by counting."""

from __future__ import annotations

import numpy as np

from forecasting.empirical import EmpiricalDemand

DIST = EmpiricalDemand(np.array([[0.0, 0.0, 1.0, 5.0], [2.0, 4.0, np.nan, np.nan]]))


def test_probability_equals_counting_by_hand() -> None:
    np.testing.assert_allclose(DIST.cdf([1.0, 3.0]), [0.75, 0.5])


def test_quantile_is_the_least_outcome_that_reaches_the_probability() -> None:
    quantile = DIST.ppf(np.array([0.5, 0.75, 0.76])[:, None])
    np.testing.assert_array_equal(quantile, [[0.0, 2.0], [1.0, 4.0], [5.0, 4.0]])
