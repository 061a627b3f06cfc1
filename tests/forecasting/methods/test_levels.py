"""Levels of SES, SBA and TSB against published values, reference libraries and the recursion itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from statsforecast.models import TSB, CrostonSBA, SimpleExponentialSmoothing
from statsmodels.tsa.holtwinters import SimpleExpSmoothing

from forecasting.errors import ParameterError
from forecasting.methods.croston import sba_level
from forecasting.methods.events import DemandEvents, events_of
from forecasting.methods.smoothing import ses_level
from forecasting.methods.tsb import demand_probability, tsb_level

Level = Callable[[DemandEvents], np.ndarray]
LEVELS: dict[str, Level] = {
    "ses": lambda sold: ses_level(sold, constant=0.3),
    "sba": lambda sold: sba_level(sold, constant=0.1),
    "tsb": lambda sold: tsb_level(sold, size_constant=0.2, probability_constant=0.1),
}
UNITS = arrays(float, (3, 25), elements=st.integers(0, 6).map(float))


def _events(entry: dict[str, Any]) -> DemandEvents:
    return events_of(np.array([entry["inputs"]["y"]], dtype=float))


@pytest.mark.parametrize("name", ["SES fixed alpha=0.2", "SES fixed alpha=0.6"])
def test_ses_level_equals_published_value(name: str, published: Callable[[str], dict[str, Any]]) -> None:
    entry = published(name)  # Hyndman & Athanasopoulos, fpp, 7.1, by way of the statsmodels tests
    level = ses_level(_events(entry), constant=entry["inputs"]["alpha"])
    np.testing.assert_allclose(level, entry["expected"]["forecast"], atol=entry["tolerance"])


def test_sba_level_equals_published_value(published: Callable[[str], dict[str, Any]]) -> None:
    entry = published("Croston SBA")  # Syntetos & Boylan (2005); value by statsforecast
    level = sba_level(_events(entry), constant=entry["inputs"]["alpha"])
    np.testing.assert_allclose(level, entry["expected"]["forecast"], rtol=1e-12)


def test_sba_level_is_croston_less_half_the_constant(published: Callable[[str], dict[str, Any]]) -> None:
    entry = published("Croston classic")  # Croston (1972); factor 1 - a / 2 by Syntetos & Boylan (2005)
    level = sba_level(_events(entry), constant=0.1)
    np.testing.assert_allclose(level, 0.95 * entry["expected"]["forecast"], rtol=1e-12)


def test_tsb_level_and_probability_equal_published_values(published: Callable[[str], dict[str, Any]]) -> None:
    entry = published("TSB")  # Teunter, Syntetos & Babai (2011); value by statsforecast
    level = tsb_level(_events(entry), size_constant=0.2, probability_constant=0.3)
    np.testing.assert_allclose(level, entry["expected"]["forecast"], rtol=1e-12)
    probability = demand_probability(_events(entry), constant=0.3)
    np.testing.assert_allclose(probability, entry["expected"]["probability"], rtol=1e-12)


def test_levels_equal_statsforecast(sporadic: np.ndarray) -> None:
    sold = events_of(sporadic)
    peers = [CrostonSBA(), TSB(alpha_d=0.2, alpha_p=0.1), SimpleExponentialSmoothing(alpha=0.3)]
    expected = np.array([[peer.forecast(y=row, h=1)["mean"][0] for row in sporadic] for peer in peers])
    ours = np.array([LEVELS[name](sold) for name in ("sba", "tsb", "ses")])
    np.testing.assert_allclose(ours, expected, rtol=1e-9, atol=1e-12)


def test_ses_level_equals_statsmodels(sporadic: np.ndarray) -> None:
    rows = sporadic[-6:-1]
    fits = [SimpleExpSmoothing(row, initialization_method="known", initial_level=row[0]) for row in rows]
    expected = [float(fit.fit(smoothing_level=0.3, optimized=False).forecast(1)[0]) for fit in fits]
    np.testing.assert_allclose(LEVELS["ses"](events_of(rows)), expected, rtol=1e-9)


@pytest.mark.parametrize("level", LEVELS.values(), ids=LEVELS)
def test_level_starts_with_the_sku_when_it_did_not_exist_before(level: Level, sporadic: np.ndarray) -> None:
    later = np.concatenate([np.full((60, 40), np.nan), sporadic], axis=1)
    np.testing.assert_array_equal(level(events_of(later)), level(events_of(sporadic)))


@pytest.mark.parametrize("level", LEVELS.values(), ids=LEVELS)
def test_level_passes_over_unknown_periods(level: Level, sporadic: np.ndarray) -> None:
    with_gap = np.insert(sporadic, 150, np.full((5, 1), np.nan), axis=1)
    np.testing.assert_allclose(level(events_of(with_gap)), level(events_of(sporadic)), rtol=1e-12)


@given(units=UNITS)
@pytest.mark.parametrize("level", LEVELS.values(), ids=LEVELS)
def test_level_doubles_when_demand_doubles(level: Level, units: np.ndarray) -> None:
    np.testing.assert_array_equal(level(events_of(2 * units)), 2 * level(events_of(units)))


@given(units=UNITS)
@pytest.mark.parametrize("level", LEVELS.values(), ids=LEVELS)
def test_level_does_not_depend_on_the_order_of_skus(level: Level, units: np.ndarray) -> None:
    np.testing.assert_array_equal(level(events_of(units[::-1].copy())), level(events_of(units))[::-1])


@pytest.mark.parametrize("constant", [0.0, -0.1, 1.1])
def test_constant_is_refused_when_outside_its_range(constant: float) -> None:
    sold = events_of(np.ones((1, 3)))
    with pytest.raises(ParameterError, match=r"\(0, 1\]"):
        ses_level(sold, constant=constant)
    with pytest.raises(ParameterError, match=r"\(0, 1\]"):
        sba_level(sold, constant=constant)
    with pytest.raises(ParameterError, match="probability_constant"):
        tsb_level(sold, size_constant=0.1, probability_constant=constant)
