"""Demand beyond the horizon of a forecast."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting import forecast
from forecasting.carried_on import carried_on
from forecasting.errors import HorizonError


@pytest.fixture(scope="module")
def seasonal() -> pd.DataFrame:
    """Three years of ship days of four SKUs, busy Mondays, twice as much in July as in January."""
    days = pd.bdate_range("2024-01-01", "2026-12-31")
    rng = np.random.default_rng(5)
    season = 1.5 - 0.5 * np.cos(2 * np.pi * (days.day_of_year - 15) / 365.25)
    rate = np.array([3.0, 5.0, 8.0, 12.0]) * np.where(days.day_of_week == 0, 1.6, 0.85)[:, None]
    return pd.DataFrame(rng.poisson(rate * season.to_numpy()[:, None]).astype(float), index=days, columns=list("ABCD"))


def test_level_carried_on_agrees_with_a_forecast_of_all_days(seasonal: pd.DataFrame) -> None:
    coming = pd.bdate_range("2027-01-01", periods=100)
    whole = forecast(seasonal, horizons=range(1, 101), calendar=coming).mean
    near = forecast(seasonal, horizons=range(1, 31), calendar=coming).mean
    later = carried_on(seasonal, near=near, calendar=coming)
    # Not the same: a forecast weighs its methods by the longest horizon that it is asked for.
    np.testing.assert_allclose(later.sum(axis=1), whole[:, -1] - whole[:, 29], rtol=0.1)
    # The season that was drawn: from mid-February to late May demand grows by a half.
    assert (later[:, -20:].mean(axis=1) / later[:, :20].mean(axis=1) > 1.25).all()


def test_announced_demand_beyond_the_horizon_multiplies(seasonal: pd.DataFrame) -> None:
    coming = pd.bdate_range("2027-01-01", periods=60)
    near = np.cumsum(np.ones((4, 30)), axis=1)
    events = pd.DataFrame(1.0, index=seasonal.index.append(coming), columns=seasonal.columns)
    events.loc[coming[40:45], "B"] = 3.0
    plain = carried_on(seasonal, near=near, calendar=coming)
    later = carried_on(seasonal, near=near, calendar=coming, events=events)
    expected = np.ones_like(later)
    expected[1, 10:15] = 3.0
    np.testing.assert_allclose(later / plain, expected)


def test_a_calendar_that_ends_with_the_forecast_is_refused(seasonal: pd.DataFrame) -> None:
    coming = pd.bdate_range("2027-01-01", periods=30)
    with pytest.raises(HorizonError, match="must go on after the 30 periods"):
        carried_on(seasonal, near=np.ones((4, 30)), calendar=coming)
