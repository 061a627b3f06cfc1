"""The negative binomial against scipy, published loss functions and its laws."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from forecasting.distribution import NegativeBinomial
from forecasting.errors import ParameterError

MEANS = np.array([0.01, 0.7, 4.0, 60.0, 900.0])[:, None]
RATIOS = np.array([1.0001, 1.3, 4.0, 40.0])
COUNTS = np.array([0.0, 1.0, 2.0, 7.0, 70.0, 1000.0])[:, None, None]
MEAN = st.floats(0.001, 300.0)
RATIO = st.floats(1.0, 30.0)


def _ours_and_scipy() -> tuple[NegativeBinomial, Any]:
    variance = MEANS * RATIOS
    # scipy's p is the probability of success, mean r (1 - p) / p.
    return NegativeBinomial(MEANS, variance), stats.nbinom(MEANS**2 / (variance - MEANS), 1.0 / RATIOS)


@pytest.mark.parametrize("function", ["pmf", "cdf", "sf"])
def test_function_equals_scipy(function: str) -> None:
    ours, reference = _ours_and_scipy()
    np.testing.assert_allclose(
        getattr(ours, function)(COUNTS), getattr(reference, function)(COUNTS), rtol=1e-7, atol=1e-300
    )


def test_quantile_equals_scipy() -> None:
    ours, reference = _ours_and_scipy()
    probability = np.array([0.0, 0.05, 0.5, 0.8, 0.95, 0.99, 0.999])[:, None, None]
    expected = np.maximum(reference.ppf(probability), 0.0)  # scipy gives -1 at probability 0
    np.testing.assert_array_equal(ours.ppf(probability), expected)


def test_quantile_equals_scipy_when_probabilities_do_not_ascend() -> None:
    ours, reference = _ours_and_scipy()
    probability = np.array([0.9, 0.3, 0.95, 0.5])[:, None, None]
    np.testing.assert_array_equal(ours.ppf(probability), reference.ppf(probability))


def test_quantile_and_cdf_equal_scipy_when_counts_are_large() -> None:
    mean, ratio = np.array([2_000.0, 50_000.0])[:, None], np.array([3.0, 400.0])
    ours, reference = NegativeBinomial(mean, mean * ratio), stats.nbinom(mean / (ratio - 1.0), 1.0 / ratio)
    probability = np.array([0.5, 0.95, 0.999])[:, None, None]
    quantile = ours.ppf(probability)
    np.testing.assert_array_equal(quantile, reference.ppf(probability))
    np.testing.assert_allclose(ours.cdf(quantile), reference.cdf(quantile), rtol=1e-10)


def test_quantile_and_cdf_equal_scipy_when_the_chance_of_none_is_next_to_the_smallest_float() -> None:
    # exp(-720) is 2e-313: a climb from there had lost its digits.
    mean = np.array([660.0, 700.0, 720.0, 744.0, 760.0])
    ours, reference = NegativeBinomial(mean, mean), stats.poisson(mean)
    probability = np.array([0.5, 0.95, 0.999])[:, None]
    np.testing.assert_array_equal(ours.ppf(probability), reference.ppf(probability))
    np.testing.assert_allclose(ours.cdf(mean + 20.0), reference.cdf(mean + 20.0), rtol=1e-10)


def test_limit_is_poisson_when_variance_is_at_most_the_mean() -> None:
    ours, reference = NegativeBinomial(MEANS, MEANS * np.array([1.0, 0.4])), stats.poisson(MEANS)
    for function in ("pmf", "cdf", "sf"):
        expected = np.broadcast_to(getattr(reference, function)(COUNTS), (6, 5, 2))
        np.testing.assert_allclose(getattr(ours, function)(COUNTS), expected, rtol=1e-9, atol=1e-300)
    np.testing.assert_array_equal(ours.ppf(0.98), np.broadcast_to(reference.ppf(0.98), (5, 2)))


def test_pmf_equals_compound_poisson_of_logarithmic_sizes(published: Callable[[str], dict[str, Any]]) -> None:
    entry = published("Compound Poisson with log")  # Quenouille (1949), Biometrics 5, 162
    r, p = entry["expected"]["r"], entry["expected"]["p"]
    mean = r * (1 - p) / p
    pmf = NegativeBinomial(mean, mean / p).pmf(np.arange(6))
    np.testing.assert_allclose(pmf, entry["expected"]["pmf_0_to_5"], atol=entry["tolerance"])


def test_expected_shortage_equals_published_losses(published: Callable[[str], dict[str, Any]]) -> None:
    poisson, negative_binomial = published("Poisson loss"), published("Negative binomial loss")  # stockpyl doctests
    ours = NegativeBinomial([15.0, 16.0], [15.0, 80.0]).expected_shortage([18, 14])
    expected = [poisson["expected"]["loss"], negative_binomial["expected"]["loss"]]
    np.testing.assert_allclose(ours, expected, atol=1e-8)


def test_expected_shortage_is_a_straight_line_between_counts_and_below_zero() -> None:
    dist = NegativeBinomial(3.0, 7.0)
    at = dist.expected_shortage([2, 2.25, 3])
    np.testing.assert_allclose(at[1], 0.75 * at[0] + 0.25 * at[2], rtol=1e-12)
    np.testing.assert_allclose(dist.expected_shortage([-4.0, 0.0]), [7.0, 3.0], rtol=1e-12)


@given(mean=MEAN, ratio=RATIO)
def test_quantiles_do_not_cross_and_reach_their_probability(mean: float, ratio: float) -> None:
    dist, probability = NegativeBinomial(mean, mean * ratio), np.linspace(0.01, 0.995, 60)
    quantile = dist.ppf(probability)
    assert np.all(np.diff(quantile) >= 0)
    assert np.all(dist.cdf(quantile) >= probability)
    assert np.all(dist.cdf(quantile - 1) < probability)


@given(mean=MEAN, ratio=RATIO)
def test_expected_shortage_falls_by_the_chance_of_more(mean: float, ratio: float) -> None:
    # E[(D - x)+] - E[(D - x - 1)+] = P(D > x), from the definition.
    dist, x = NegativeBinomial(mean, mean * ratio), np.arange(-2.0, 50.0)
    np.testing.assert_allclose(
        dist.expected_shortage(x) - dist.expected_shortage(x + 1), dist.sf(x), rtol=1e-9, atol=1e-9
    )


def test_sample_has_the_moments_asked_for() -> None:
    dist = NegativeBinomial([0.0, 2.0, 5.0], [0.0, 2.0, 20.0])
    drawn = dist.sample(np.random.default_rng(1), size=(40_000,))
    standard_error = np.sqrt(dist.variance / 40_000)
    assert np.all(np.abs(drawn.mean(axis=0) - dist.mean) <= 4 * standard_error)
    np.testing.assert_allclose(drawn.var(axis=0), dist.variance, rtol=0.05)


def test_mean_zero_is_certainly_zero() -> None:
    dist = NegativeBinomial(0.0, 3.0)
    assert (dist.pmf(0), dist.ppf(0.99), dist.expected_shortage(0)) == (1.0, 0.0, 0.0)


@pytest.mark.parametrize(("mean", "variance"), [(-1.0, 2.0), (1.0, -2.0), (np.nan, 1.0), (1.0, np.inf)])
def test_moments_are_refused_when_negative_or_not_finite(mean: float, variance: float) -> None:
    with pytest.raises(ParameterError, match=r"finite and >= 0.*at \[1\]"):
        NegativeBinomial([1.0, mean], [1.0, variance])


@pytest.mark.parametrize("probability", [-0.1, 1.0, np.nan])
def test_quantile_is_refused_when_no_probability(probability: float) -> None:
    with pytest.raises(ParameterError, match=r"\[0, 1\)"):
        NegativeBinomial(1.0, 1.0).ppf(probability)
