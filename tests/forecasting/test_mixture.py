"""Mixtures against sums over their probabilities."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from forecasting.distribution import NegativeBinomial
from forecasting.errors import ParameterError
from forecasting.mixture import Mixture

COUNTS = np.arange(400)
# Two methods, three SKUs, two horizons; the third SKU has one method only.
MEAN = np.array([[[1.0, 3.0], [0.2, 0.5], [4.1, 9.0]], [[5.0, 12.0], [0.1, 0.4], [2.0, 5.0]]])
VARIANCE = np.array([[[1.0, 5.0], [0.3, 0.9], [8.0, 20.0]], [[15.0, 50.0], [0.1, 0.6], [2.0, 5.0]]])
WEIGHT = np.array([[[0.3, 0.5], [0.6, 0.6], [1.0, 1.0]], [[0.7, 0.5], [0.4, 0.4], [0.0, 0.0]]])
MIXTURE = Mixture(WEIGHT, NegativeBinomial(MEAN, VARIANCE))


def _mass() -> np.ndarray:
    """P(D = 0 .. 399) by scipy, shape (SKU, horizon, count)."""
    r = MEAN**2 / np.where(VARIANCE > MEAN, VARIANCE - MEAN, 1.0)
    negative_binomial = stats.nbinom.pmf(COUNTS, r[..., None], (MEAN / VARIANCE)[..., None])
    poisson = stats.poisson.pmf(COUNTS, MEAN[..., None])
    parts = np.where((VARIANCE > MEAN)[..., None], negative_binomial, poisson)
    return (WEIGHT[..., None] * parts).sum(axis=0)


def test_moments_equal_sums_over_the_probabilities() -> None:
    mass = _mass()
    mean = mass @ COUNTS
    np.testing.assert_allclose(MIXTURE.mean, mean, rtol=1e-9)
    np.testing.assert_allclose(MIXTURE.variance, mass @ COUNTS**2 - mean**2, rtol=1e-9)


def test_probabilities_equal_sums_over_the_probabilities() -> None:
    mass, x = _mass(), np.array([[0.0, 4.0], [1.0, 0.0], [3.0, 11.0]])
    k = x.astype(int)
    rows, columns = np.arange(3)[:, None], np.arange(2)
    np.testing.assert_allclose(MIXTURE.pmf(x), mass[rows, columns, k], rtol=1e-9)
    np.testing.assert_allclose(MIXTURE.cdf(x), np.cumsum(mass, axis=2)[rows, columns, k], rtol=1e-9)
    np.testing.assert_allclose(MIXTURE.sf(x), 1 - np.cumsum(mass, axis=2)[rows, columns, k], rtol=1e-7)


def test_expected_shortage_equals_a_sum_over_the_probabilities() -> None:
    short = np.maximum(COUNTS - 2.5, 0.0)
    np.testing.assert_allclose(MIXTURE.expected_shortage(2.5), _mass() @ short, rtol=1e-9)


def test_quantiles_are_the_least_counts_that_reach_the_probability() -> None:
    reached = np.cumsum(_mass(), axis=2)
    for p in (0.0, 0.3, 0.5, 0.9, 0.99, 0.999):
        np.testing.assert_array_equal(MIXTURE.ppf(p), (reached < p).sum(axis=2))


def test_quantiles_take_one_probability_per_place_and_new_axes() -> None:
    each = np.array([[0.5, 0.9], [0.99, 0.5], [0.2, 0.7]])
    by_place = MIXTURE.ppf(np.stack([each, 1 - each]))
    assert by_place.shape == (2, 3, 2)
    np.testing.assert_array_equal(by_place[0, 1], [MIXTURE.ppf(0.99)[1, 0], MIXTURE.ppf(0.5)[1, 1]])


def test_quantile_is_right_when_the_counts_are_in_millions() -> None:
    large = Mixture(np.full((2, 1, 1), 0.5), NegativeBinomial([[[8e6]], [[9e6]]], [[[1e10]], [[1e10]]]))
    # Far apart (10 standard deviations), the 75 % quantile is the median of the upper part.
    assert large.ppf(0.75)[0, 0] == pytest.approx(9e6, rel=1e-4)


def test_part_without_weight_has_no_say() -> None:
    np.testing.assert_array_equal(MIXTURE.ppf(0.99)[2], NegativeBinomial(MEAN[0, 2], VARIANCE[0, 2]).ppf(0.99))


def test_mixture_is_refused_when_its_shares_do_not_sum_to_one() -> None:
    with pytest.raises(ParameterError, match="SKU 1"):
        Mixture(np.array([[[1.0], [0.5]], [[0.0], [0.4]]]), NegativeBinomial(np.ones((2, 2, 1)), np.ones((2, 2, 1))))
