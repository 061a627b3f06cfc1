"""The launch curve: found where records begin late, borrowed by those that are young."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting import forecast
from forecasting.launches import PRIOR_LAUNCHES, PRIOR_UNITS, STAGES, launch_factors, stages_of

SETTLED, YEAR = 32, 64


def _launched(at: int, *, first: float, then: float, periods: int = 120) -> np.ndarray:
    """Return a record that begins at a period, with other demand in the first stage than later."""
    units = np.full(periods, np.nan)
    units[at:] = then
    units[at : at + 2] = first
    return units


def test_stages_double_until_the_launch_has_settled() -> None:
    stage = stages_of(np.arange(-1, 40), settled=SETTLED)
    # By hand: ends at 2, 4, 8, 16 and 32 periods.
    assert stage[0] == STAGES
    assert np.flatnonzero(np.diff(stage[1:])).tolist() == [1, 3, 7, 15, 31]


def test_curve_of_many_launches_is_what_they_sold_over_their_level() -> None:
    units = np.array([_launched(10 + k, first=200.0, then=100.0) for k in range(10)])
    factors = launch_factors(units, ahead=3, year=YEAR)
    # By hand: 4000 units where 2000 were expected, drawn to 1 by PRIOR_UNITS and by PRIOR_LAUNCHES.
    ratio = (4000.0 + PRIOR_UNITS) / (2000.0 + PRIOR_UNITS)
    np.testing.assert_allclose(factors[0, 10:12], 1.0 + 10 / (10 + PRIOR_LAUNCHES) * (ratio - 1.0))
    np.testing.assert_allclose(factors[0, 12:], 1.0)


def test_sku_without_any_record_gets_the_curve_from_its_first_coming_period() -> None:
    units = np.array([*(_launched(10 + k, first=200.0, then=100.0) for k in range(10)), np.full(120, np.nan)])
    factors = launch_factors(units, ahead=4, year=YEAR)
    np.testing.assert_allclose(factors[10, 120:], factors[0, 10:14])


@pytest.mark.parametrize("year", [0, YEAR], ids=["no dates", "none settled"])
def test_no_curve_where_no_launch_can_be_read(year: int) -> None:
    units = np.array([_launched(95, first=9.0, then=1.0)])
    factors = launch_factors(units, ahead=3, year=year)
    assert np.all(factors == 1.0)


def test_forecast_of_a_fresh_launch_settles_as_earlier_ones_did() -> None:
    # Earlier launches sold three times as much in their first 16 days as later on; this one is 12 days old.
    days = pd.bdate_range("2025-01-06", periods=420)
    age = np.arange(420)[:, None] - np.append(np.arange(100, 140), 408)
    mean = np.where(age < 17, 6.0, 2.0)
    units = np.where(age < 0, np.nan, np.random.default_rng(4).poisson(mean))
    old = np.random.default_rng(5).poisson(2.0, size=(420, 20))
    history = pd.DataFrame(np.column_stack([old, units]).astype(float), index=days)
    coming = pd.bdate_range(days[-1], periods=61)[1:]
    found = forecast(history, horizons=[1, 60], calendar=coming)
    first, rest = found.mean[-1, 0], (found.mean[-1, 1] - found.mean[-1, 0]) / 59
    assert first > 1.6 * rest
