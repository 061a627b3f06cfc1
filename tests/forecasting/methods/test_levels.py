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
from forecasting.levels import CONSTANTS
from forecasting.methods.croston import SbaLevels
from forecasting.methods.smoothing import SesLevels
from forecasting.methods.tsb import SIZE_CONSTANTS, TsbLevels

Method = type[SesLevels] | type[SbaLevels] | type[TsbLevels]
METHODS: list[Method] = [SesLevels, SbaLevels, TsbLevels]
UNITS = arrays(float, (3, 25), elements=st.integers(0, 6).map(float))


def _after(units: np.ndarray, method: Method = SesLevels, **constants: tuple[float, ...]) -> Any:
    levels = method.unsold(len(units), **constants)
    levels.advance(units)
    return levels


def _level(units: np.ndarray, method: Method, **constants: tuple[float, ...]) -> np.ndarray:
    return _after(units, method, **constants).now()[:, 0]


def _sales(entry: dict[str, Any]) -> np.ndarray:
    return np.array([entry["inputs"]["y"]], dtype=float)


@pytest.mark.parametrize("name", ["SES fixed alpha=0.2", "SES fixed alpha=0.6"])
def test_ses_level_equals_published_value(name: str, published: Callable[[str], dict[str, Any]]) -> None:
    entry = published(name)  # Hyndman & Athanasopoulos, fpp, 7.1, by way of the statsmodels tests
    level = _level(_sales(entry), SesLevels, constants=(entry["inputs"]["alpha"],))
    np.testing.assert_allclose(level, entry["expected"]["forecast"], atol=entry["tolerance"])


def test_sba_level_equals_published_value(published: Callable[[str], dict[str, Any]]) -> None:
    entry = published("Croston SBA")  # Syntetos & Boylan (2005); value by statsforecast
    level = _level(_sales(entry), SbaLevels, constants=(entry["inputs"]["alpha"],))
    np.testing.assert_allclose(level, entry["expected"]["forecast"], rtol=1e-12)


def test_sba_level_is_croston_less_half_the_constant(published: Callable[[str], dict[str, Any]]) -> None:
    entry = published("Croston classic")  # Croston (1972); factor 1 - a / 2 by Syntetos & Boylan (2005)
    level = _level(_sales(entry), SbaLevels, constants=(0.1,))
    np.testing.assert_allclose(level, 0.95 * entry["expected"]["forecast"], rtol=1e-12)


def test_tsb_level_equals_published_value(published: Callable[[str], dict[str, Any]]) -> None:
    entry = published("TSB")  # Teunter, Syntetos & Babai (2011); value by statsforecast
    level = _level(_sales(entry), TsbLevels, size_constants=(0.2,), probability_constants=(0.3,))
    np.testing.assert_allclose(level, entry["expected"]["forecast"], rtol=1e-12)


def test_levels_equal_statsforecast_for_every_constant(sporadic: np.ndarray) -> None:
    # statsforecast starts as we do: sizes at the first demand, intervals at the first demand's period,
    # probability and level at the first period. Its SBA has the constant 0.1 alone.
    tsb = [TSB(alpha_d=a, alpha_p=b) for a, b in zip(SIZE_CONSTANTS, CONSTANTS, strict=True)]
    ses = [SimpleExponentialSmoothing(alpha=a) for a in CONSTANTS]
    sba = _level(sporadic, SbaLevels, constants=(0.1,))
    np.testing.assert_allclose(sba, _theirs([CrostonSBA()], sporadic)[:, 0], rtol=1e-9)
    for method, peers in ((TsbLevels, tsb), (SesLevels, ses)):
        np.testing.assert_allclose(_after(sporadic, method).now(), _theirs(peers, sporadic), rtol=1e-9, atol=1e-12)


def _theirs(peers: list[Any], units: np.ndarray) -> np.ndarray:
    return np.array([[peer.forecast(y=row, h=1)["mean"][0] for peer in peers] for row in units])


def test_ses_level_equals_statsmodels(sporadic: np.ndarray) -> None:
    rows = sporadic[-6:-1]
    fits = [SimpleExpSmoothing(row, initialization_method="known", initial_level=row[0]) for row in rows]
    expected = [float(fit.fit(smoothing_level=0.3, optimized=False).forecast(1)[0]) for fit in fits]
    np.testing.assert_allclose(_level(rows, SesLevels, constants=(0.3,)), expected, rtol=1e-9)


def test_chosen_level_has_the_least_squared_error_of_statsforecast(sporadic: np.ndarray) -> None:
    # One-step fitted values of the peer from the second demand's run on; before the first demand no level is known.
    sold = sporadic[:-1]
    tsb = [TSB(alpha_d=a, alpha_p=b) for a, b in zip(SIZE_CONSTANTS, CONSTANTS, strict=True)]
    ses = [SimpleExponentialSmoothing(alpha=a) for a in CONSTANTS]
    for method, peers in ((TsbLevels, tsb), (SesLevels, ses)):
        levels, errors = _after(sold, method), _squared_errors(peers, sold)
        np.testing.assert_array_equal(levels.chosen(), levels.now()[np.arange(len(sold)), errors.argmin(axis=1)])


def _squared_errors(peers: list[Any], units: np.ndarray) -> np.ndarray:
    is_later = np.cumsum(units, axis=1) - units > 0
    fitted = np.array([[p.forecast(y=row, h=1, fitted=True)["fitted"] for p in peers] for row in units])
    return np.where(is_later[:, None], (units[:, None] - fitted) ** 2, 0.0).sum(axis=2)


def test_sba_errors_equal_those_of_the_recursion_period_by_period(sporadic: np.ndarray) -> None:
    # The level of statsforecast after each prefix is the forecast of the next period; a = 0.1 is its only constant.
    row = sporadic[40, :80]
    first = int(np.flatnonzero(row)[0])
    forecast = np.array([CrostonSBA().forecast(y=row[:t], h=1)["mean"][0] for t in range(first + 1, 80)])
    levels = _after(row[None], SbaLevels, constants=(0.1,))
    zeros_since = levels.since[0] * levels.rate[0, 0] ** 2
    np.testing.assert_allclose(levels.error[0, 0] + zeros_since, np.sum((row[first + 1 :] - forecast) ** 2), rtol=1e-9)


@pytest.mark.parametrize("method", METHODS)
def test_levels_in_two_parts_are_bit_equal_to_the_whole(method: Method, sporadic: np.ndarray) -> None:
    units = np.where(np.random.default_rng(3).random(sporadic.shape) < 0.1, np.nan, sporadic)
    whole, parts = _after(units, method), method.unsold(len(units))
    for part in np.split(units, [1, 2, 3, 120, 121, 299], axis=1):
        parts.advance(part)
    assert whole.error.any()
    for name in ("since", "rate", "error"):
        np.testing.assert_array_equal(getattr(parts, name), getattr(whole, name))
    np.testing.assert_array_equal(parts.chosen(), whole.chosen())


def test_decay_is_bit_equal_after_a_pause_that_outgrows_the_first_table() -> None:
    units = np.zeros((1, 3_000))
    units[0, [0, 4, 2_900]] = 2.0, 1.0, 5.0
    whole, parts = _after(units), SesLevels.unsold(1)
    for part in np.split(units, [5, 900, 2_950], axis=1):
        parts.advance(part)
    np.testing.assert_array_equal(parts.error, whole.error)
    # By hand for a = 0.4: 2, zeros, 1 and 5 after 2,895 zeros, over which the level fades to nothing.
    level = 2.0 * 0.6**3
    errors = 4.0 * (1 + 0.36 + 0.36**2) + (1 - level) ** 2
    level = level + 0.4 * (1 - level)
    np.testing.assert_allclose(whole.error[0, -1], errors + level**2 / (1 - 0.36) + 25.0)


@pytest.mark.parametrize("method", METHODS)
def test_level_starts_with_the_sku_when_it_did_not_exist_before(method: Method, sporadic: np.ndarray) -> None:
    later = np.concatenate([np.full((60, 40), np.nan), sporadic], axis=1)
    np.testing.assert_array_equal(_after(later, method).now(), _after(sporadic, method).now())


@pytest.mark.parametrize("method", METHODS)
def test_level_passes_over_unknown_periods(method: Method, sporadic: np.ndarray) -> None:
    with_gap = np.insert(sporadic, 150, np.full((5, 1), np.nan), axis=1)
    np.testing.assert_array_equal(_after(with_gap, method).now(), _after(sporadic, method).now())


@given(units=UNITS)
@pytest.mark.parametrize("method", METHODS)
def test_level_doubles_when_demand_doubles(method: Method, units: np.ndarray) -> None:
    np.testing.assert_array_equal(_after(2 * units, method).chosen(), 2 * _after(units, method).chosen())


@given(units=UNITS)
@pytest.mark.parametrize("method", METHODS)
def test_level_does_not_depend_on_the_order_of_skus(method: Method, units: np.ndarray) -> None:
    np.testing.assert_array_equal(_after(units[::-1], method).chosen(), _after(units, method).chosen()[::-1])


@pytest.mark.parametrize("constant", [0.0, -0.1, 1.1])
def test_constant_is_refused_when_outside_its_range(constant: float) -> None:
    with pytest.raises(ParameterError, match=r"constant must be in \(0, 1\]"):
        SesLevels.unsold(1, constants=(constant,))
    with pytest.raises(ParameterError, match=r"constant must be in \(0, 1\]"):
        SbaLevels.unsold(1, constants=(0.1, constant))
    with pytest.raises(ParameterError, match="probability_constant"):
        TsbLevels.unsold(1, size_constants=(0.1,), probability_constants=(constant,))


def test_tsb_is_refused_when_its_constants_do_not_pair() -> None:
    with pytest.raises(ParameterError, match="got 1 and 2"):
        TsbLevels.unsold(1, size_constants=(0.1,), probability_constants=(0.1, 0.2))


def test_periods_are_refused_when_they_are_of_another_number_of_skus() -> None:
    with pytest.raises(ParameterError, match=r"3 SKUs.*got shape \(2, 4\)"):
        SbaLevels.unsold(3).advance(np.ones((2, 4)))
