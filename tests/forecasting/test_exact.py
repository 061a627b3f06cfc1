"""Quantiles of summed demand against convolutions of scipy's distributions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from forecasting.errors import ParameterError
from forecasting.exact import SummedDemand, demand_of_days

PROBABILITY = np.array([0.0, 0.2, 0.5, 0.8, 0.9, 0.95, 0.98, 0.99, 0.999])
FACTOR = np.array([1.6, 1.1, 0.9, 0.8, 0.6])
WEEKDAY = np.arange(20) % 5


def _convolved(parts: list[np.ndarray]) -> np.ndarray:
    """Return the cumulated probabilities of the sum of independent counts."""
    total = np.ones(1)
    for pmf in parts:
        total = np.convolve(total, pmf)
    return np.cumsum(total)


def _least_reaching(cumulated: np.ndarray) -> np.ndarray:
    return np.array([np.argmax(cumulated >= q) for q in PROBABILITY])


@pytest.mark.parametrize(("mean", "size"), [(0.02, 0.3), (0.4, 0.8), (3.0, 5.0), (12.0, 0.9)])
def test_quantiles_of_twenty_days_equal_the_convolution_of_scipys_days(mean: float, size: float) -> None:
    at = np.arange(3_000)
    days = [stats.nbinom.pmf(at, size, size / (size + mean * f)) for f in FACTOR[WEEKDAY]]
    demand = demand_of_days(mean=[mean], size=[size], factor=FACTOR[None], weekday=WEEKDAY)
    np.testing.assert_array_equal(demand.ppf(PROBABILITY)[0], _least_reaching(_convolved(days)))


def test_quantiles_equal_the_convolution_when_some_parts_are_poisson_or_nothing() -> None:
    at = np.arange(400)
    parts = [stats.poisson.pmf(at, 2.5), stats.nbinom.pmf(at, 1.5, 0.25), stats.poisson.pmf(at, 0.7)]
    # By hand: r (1 - p) / p = 4.5 and over p = 18.
    demand = SummedDemand(np.array([[2.5, 4.5, 0.7, 0.0]]), np.array([[2.5, 18.0, 0.1, 3.0]]))
    np.testing.assert_array_equal(demand.ppf(PROBABILITY)[0], _least_reaching(_convolved(parts)))


def test_quantiles_equal_scipy_when_no_sale_is_less_likely_than_the_smallest_float() -> None:
    demand = SummedDemand(np.array([[2_000.0], [900.0]]), np.array([[2_000.0], [2_700.0]]))
    expected = [stats.poisson(2_000.0).ppf(PROBABILITY), stats.nbinom(450.0, 1.0 / 3.0).ppf(PROBABILITY)]
    np.testing.assert_array_equal(demand.ppf(PROBABILITY), np.maximum(expected, 0.0))  # scipy gives -1 at 0


def test_quantile_is_found_when_the_rest_of_the_tail_is_below_rounding() -> None:
    highest = np.nextafter(1.0, 0.0)
    assert SummedDemand(np.array([[5_000.0]]), np.array([[5_000.0]])).ppf(highest)[0, 0] < 5_000 + 10 * np.sqrt(5_000)


def test_nothing_is_sold_when_every_mean_is_zero() -> None:
    assert SummedDemand(np.zeros((1, 3)), np.ones((1, 3))).ppf([0.5, 0.999]).tolist() == [[0.0, 0.0]]


def test_quantiles_keep_the_order_of_the_probabilities_asked_for() -> None:
    demand = SummedDemand(np.array([[4.0, 1.0]]), np.array([[9.0, 1.0]]))
    np.testing.assert_array_equal(demand.ppf([0.99, 0.5, 0.9]), demand.ppf([0.5, 0.9, 0.99])[:, [2, 0, 1]])


@given(mean=st.floats(0.01, 40.0), ratio=st.floats(1.01, 20.0), parts=st.integers(1, 6))
def test_parts_with_one_success_probability_sum_to_one_negative_binomial(mean: float, ratio: float, parts: int) -> None:
    # Johnson, Kemp & Kotz, Univariate Discrete Distributions, ch. 5 (from memory): sizes add.
    one = stats.nbinom(parts * mean / (ratio - 1.0), 1.0 / ratio)
    quantile = SummedDemand(np.full((1, parts), mean), np.full((1, parts), mean * ratio)).ppf([0.5, 0.95, 0.99])[0]
    assert np.all(one.cdf(quantile) >= np.array([0.5, 0.95, 0.99]) - 1e-9)
    assert np.all(one.cdf(quantile - 1) < np.array([0.5, 0.95, 0.99]) + 1e-9)


def test_sum_is_refused_with_row_and_part_when_a_moment_is_bad() -> None:
    with pytest.raises(ParameterError, match=r"variance.*-1.*row 0, part 1"):
        SummedDemand(np.ones((1, 2)), np.array([[1.0, -1.0]]))


@pytest.mark.parametrize("probability", [-0.1, 1.0, np.nan])
def test_quantile_is_refused_when_no_probability(probability: float) -> None:
    with pytest.raises(ParameterError, match=r"\[0, 1\)"):
        SummedDemand(np.ones((1, 1)), np.ones((1, 1))).ppf(probability)
