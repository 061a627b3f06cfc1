"""Empirical distributions by counting."""

from __future__ import annotations

import numpy as np

from forecasting.empirical import EmpiricalDemand

DIST = EmpiricalDemand(np.array([[0.0, 0.0, 1.0, 5.0], [2.0, 4.0, np.nan, np.nan]]))


def test_functions_equal_counting_by_hand() -> None:
    np.testing.assert_allclose(DIST.mean, [1.5, 3.0])
    np.testing.assert_allclose(DIST.cdf([1.0, 3.0]), [0.75, 0.5])
    np.testing.assert_allclose(DIST.sf([1.0, 3.0]), [0.25, 0.5])
    np.testing.assert_allclose(DIST.pmf([0.0, 4.0]), [0.5, 0.5])
    np.testing.assert_allclose(DIST.expected_shortage([1.0, 3.0]), [1.0, 0.5])
    np.testing.assert_allclose(DIST.variance, [4.25, 1.0])


def test_quantile_is_the_least_outcome_that_reaches_the_probability() -> None:
    quantile = DIST.ppf(np.array([0.5, 0.75, 0.76])[:, None])
    np.testing.assert_array_equal(quantile, [[0.0, 2.0], [1.0, 4.0], [5.0, 4.0]])
