"""The search for the least count against scipy's quantiles and against definitions."""

from __future__ import annotations

import numpy as np
from scipy import stats

from forecasting.count_search import least_count
from forecasting.distribution import NegativeBinomial

PROBABILITY = np.array([0.0, 0.02, 0.5, 0.9, 0.999])
MEAN = np.repeat([0.3, 40.0, 7e3, 2e6], 5)


def _poisson(place: np.ndarray, count: np.ndarray) -> np.ndarray:
    return stats.poisson.cdf(count, MEAN[place])


def test_least_count_equals_scipy_whatever_the_guess() -> None:
    asked = np.tile(PROBABILITY, 4)
    expected = np.maximum(stats.poisson.ppf(asked, MEAN), 0.0)  # scipy gives -1 at probability 0
    for guess in (MEAN, np.zeros(20), MEAN * 3.0 + 50.0):
        np.testing.assert_array_equal(least_count(_poisson, asked, guess=guess, spread=np.sqrt(MEAN)), expected)


def test_least_count_is_found_where_the_function_jumps() -> None:
    # Half at 10 and half at a million: no straight line in normal scores.
    def jumps(_place: np.ndarray, count: np.ndarray) -> np.ndarray:
        return 0.5 * (count >= 10.0) + 0.5 * (count >= 1e6)

    found = least_count(jumps, np.array([0.3, 0.5, 0.7]), guess=np.full(3, 5e5), spread=np.full(3, 5e5))
    np.testing.assert_array_equal(found, [10.0, 10.0, 1e6])


def test_quantile_ends_where_whole_numbers_are_no_longer_told_apart() -> None:
    # Beyond 2^53 it never ended. The gamma distribution is the limit of the negative binomial for large means.
    mean, cv2 = 1e17, 0.25
    found = NegativeBinomial(mean, mean + cv2 * mean**2).ppf(0.95)
    np.testing.assert_allclose(found, stats.gamma.ppf(0.95, 1 / cv2, scale=mean * cv2), rtol=1e-7)
