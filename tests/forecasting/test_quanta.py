"""What demand is counted in. Powers of ten by hand; the laws hold for any unit of measure."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting import forecast
from forecasting.quanta import counted, quanta_of

QUANTILES = np.array([0.5, 0.9, 0.99])[:, None, None]


@pytest.fixture(scope="module")
def pieces() -> pd.DataFrame:
    rng = np.random.default_rng(3)
    return pd.DataFrame(rng.poisson(np.geomspace(0.3, 60.0, 12), size=(120, 12)).astype(float))


@pytest.mark.parametrize(
    ("units", "quantum"),
    [([3.0, np.nan], 1.0), ([0.3, 12.0], 0.1), ([0.25, 7.5], 0.01), ([2e7, 3e7], 100.0), ([0.0, np.nan], 1.0)],
)
def test_quantum_is_the_largest_power_of_ten_that_serves(units: list[float], quantum: float) -> None:
    np.testing.assert_allclose(quanta_of(np.array([units])), [quantum])


def test_quantum_is_a_thousandth_of_a_usual_demand_when_quantities_are_multiples_of_nothing() -> None:
    # By hand: the mean of pi and e is 2.93; a thousandth of it, rounded down to a power of ten.
    np.testing.assert_allclose(quanta_of(np.array([[np.pi, np.e]])), [0.001])


def test_quantities_are_counted_without_the_rounding_of_a_division() -> None:
    np.testing.assert_array_equal(counted(np.array([0.3, 0.7, 1.1]), np.array(0.1)), [3.0, 7.0, 11.0])


def test_forecast_in_tenths_is_a_tenth_of_the_forecast_in_pieces(pieces: pd.DataFrame) -> None:
    whole, tenths = forecast(pieces, horizons=[1, 5]), forecast(pieces * 0.1, horizons=[1, 5])
    np.testing.assert_allclose(tenths.mean, whole.mean / 10, rtol=1e-9)
    np.testing.assert_allclose(tenths.variance, whole.variance / 100, rtol=1e-9)
    np.testing.assert_allclose(tenths.ppf(QUANTILES), whole.ppf(QUANTILES) / 10, rtol=1e-9)
    at = whole.ppf(0.9)
    np.testing.assert_allclose(tenths.cdf(at * 0.1), whole.cdf(at), rtol=1e-9)
    np.testing.assert_allclose(tenths.pmf(at * 0.1), whole.pmf(at), rtol=1e-9)
    np.testing.assert_allclose(tenths.sf(at * 0.1), whole.sf(at), rtol=1e-9)
    np.testing.assert_allclose(tenths.expected_shortage(at / 10), whole.expected_shortage(at) / 10, rtol=1e-9)
    paths = tenths.sample(50, np.random.default_rng(1))
    np.testing.assert_allclose(paths * 10, whole.sample(50, np.random.default_rng(1)), rtol=1e-9)


@pytest.mark.parametrize("factor", [1e9, 1e200])
def test_forecast_of_huge_demand_ends_and_is_finite(pieces: pd.DataFrame, factor: float) -> None:
    answer = forecast(pieces * factor, horizons=[1, 5])
    quantile = answer.ppf(QUANTILES)
    assert np.isfinite(answer.mean).all()
    assert np.all(np.diff(quantile, axis=0) >= 0)
    # Poisson demand of mean 60, five periods: 300 of them; the mean of a forecast is within a fifth of it.
    assert answer.mean[-1, 1] == pytest.approx(300 * factor, rel=0.2)
