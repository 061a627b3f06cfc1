"""Scores against published values and scoringrules; least at the truth."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecasting.distribution import NegativeBinomial
from forecasting.errors import ParameterError
from forecasting.scores import (
    crps_negative_binomial,
    expected_coverage,
    mean_absolute_scaled_error,
    mean_difference,
    pinball_loss,
)

Published = Callable[[str], dict[str, Any]]


def test_crps_equals_published_values(published: Published) -> None:
    entry = published("CRPS negative binomial")  # R package scoringRules, its own tests; Wei & Held (2014)
    y, size, prob = np.array(entry["inputs"]["cases"]).T
    mean = size * (1 - prob) / prob
    np.testing.assert_allclose(
        crps_negative_binomial(y, NegativeBinomial(mean, mean / prob)), entry["expected"]["crps"], atol=1e-8
    )


def test_crps_equals_published_poisson_values(published: Published) -> None:
    entry = published("CRPS Poisson")  # Wei & Held (2014), closed form
    y, rate = np.array(entry["inputs"]["cases"]).T
    np.testing.assert_allclose(
        crps_negative_binomial(y, NegativeBinomial(rate, rate)), entry["expected"]["crps"], atol=1e-9
    )


def test_crps_equals_scoringrules() -> None:
    # Here, as it compiles itself for seconds when it is imported, and every worker imports every test.
    import scoringrules

    mean, ratio, y = (np.array(v) for v in ([0.3, 4.0, 25.0], [1.5, 3.0, 1.2], [0.0, 9.0, 20.0]))
    expected = scoringrules.crps_negbinom(y, mean / (ratio - 1), 1 / ratio)
    np.testing.assert_allclose(crps_negative_binomial(y, NegativeBinomial(mean, mean * ratio)), expected, rtol=1e-9)


@pytest.mark.parametrize(
    ("mean", "variance"), [(0.01, 0.02), (10.0, 13.0), (10.0, 13.5), (300.0, 30_000.0), (50, 50.001)]
)
def test_mean_difference_equals_the_sum_of_its_definition(mean: float, variance: float) -> None:
    # E|D - D'| = 2 sum F(k)(1 - F(k)), on both sides of the size where the closed form gives way to the integral.
    dist = NegativeBinomial(mean, variance)
    k = np.arange(int(mean + 80 * np.sqrt(variance)) + 50)
    np.testing.assert_allclose(mean_difference(dist), 2 * np.sum(dist.cdf(k) * dist.sf(k)), rtol=1e-9)


def test_pinball_loss_equals_published_values(published: Published) -> None:
    entry = published("Pinball loss")  # Koenker & Bassett (1978)
    y, quantile, probability = np.array(entry["inputs"]["cases"]).T
    np.testing.assert_allclose(
        pinball_loss(y, quantile, probability=probability), entry["expected"]["loss"], atol=1e-12
    )


def test_mase_equals_published_value(published: Published) -> None:
    entry = published("MASE")  # Hyndman & Koehler (2006)
    given_ = entry["inputs"]
    ours = mean_absolute_scaled_error(given_["actual"], given_["forecast"], insample=given_["insample"])
    assert ours == pytest.approx(entry["expected"]["MASE"], abs=1e-12)


def test_mase_is_refused_when_the_sample_is_constant() -> None:
    with pytest.raises(ParameterError, match="constant"):
        mean_absolute_scaled_error([1.0], [2.0], insample=[3.0, 3.0])


@given(mean=st.floats(0.2, 30.0), ratio=st.floats(1.05, 6.0), shift=st.floats(0.5, 2.0))
def test_crps_is_least_at_the_truth(mean: float, ratio: float, shift: float) -> None:
    # Expectation under the truth, summed over all outcomes (Gneiting & Raftery 2007: the score is proper).
    truth, other = NegativeBinomial(mean, mean * ratio), NegativeBinomial(mean * shift, mean * shift * ratio)
    y = np.arange(truth.ppf(1 - 1e-10) + 1)
    expected = [float(np.sum(truth.pmf(y) * crps_negative_binomial(y, dist))) for dist in (truth, other)]
    assert expected[0] <= expected[1] + 1e-9


@given(mean=st.floats(0.2, 30.0), ratio=st.floats(1.05, 6.0), q=st.floats(0.05, 0.99), shift=st.integers(-5, 5))
def test_pinball_loss_is_least_at_the_true_quantile(mean: float, ratio: float, q: float, shift: int) -> None:
    truth = NegativeBinomial(mean, mean * ratio)
    y, best = np.arange(truth.ppf(1 - 1e-12) + 1), truth.ppf(q)
    at_best, beside = (float(np.sum(truth.pmf(y) * pinball_loss(y, x, probability=q))) for x in (best, best + shift))
    assert at_best <= beside + 1e-9


@given(mean=st.floats(0.05, 30.0), ratio=st.floats(1.0, 6.0), q=st.floats(0.01, 0.99))
def test_expected_coverage_averages_to_the_probability_at_the_truth(mean: float, ratio: float, q: float) -> None:
    # Czado, Gneiting & Held (2009): the randomised transform is uniform under the truth.
    truth = NegativeBinomial(mean, mean * ratio)
    y = np.arange(truth.ppf(1 - 1e-13) + 1)
    coverage = expected_coverage(truth.cdf(y - 1), truth.cdf(y), probability=q)
    assert float(np.sum(truth.pmf(y) * coverage)) == pytest.approx(q, abs=1e-8)


def test_pinball_loss_is_refused_when_no_probability() -> None:
    with pytest.raises(ParameterError, match=r"\(0, 1\)"):
        pinball_loss(1.0, 1.0, probability=1.0)
