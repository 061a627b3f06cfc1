"""Days beside closed ones: found in the dates, and their factors learned from the past ones."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting import forecast
from forecasting.closures import closure_factors, closures_of

DAYS = pd.bdate_range("2027-01-04", periods=30)
# Friday of the second week, then Thursday and Friday of the fourth.
OPEN = DAYS.delete([9, 18, 19])


def test_closures_are_the_missing_dates_of_weekdays_that_ship() -> None:
    closures = closures_of(OPEN)
    assert OPEN[closures.after].strftime("%m-%d").tolist() == ["01-18", "02-01"]
    assert closures.closed.tolist() == [[0, 0, 0, 0, 1, 0, 0], [0, 0, 0, 1, 1, 0, 0]]
    assert OPEN[closures.before].strftime("%m-%d").tolist() == ["01-14", "01-27"]


def test_weekend_is_no_closure_even_if_one_saturday_shipped() -> None:
    with_one_saturday = DAYS.append(pd.DatetimeIndex(["2027-01-09"])).sort_values()
    assert closures_of(with_one_saturday).after.size == 0


def test_what_closed_days_would_have_had_is_carried_to_the_next_ship_day() -> None:
    # By hand: half of a closed day's 100 units are due the day after, none the day before; two closures count 2 / 4.
    closures = closures_of(OPEN)
    total = np.full(len(OPEN), 100.0)
    total[closures.after] += 50.0 * closures.closed.sum(axis=1)
    after, before = closure_factors(
        total, closures, weekday=np.asarray(OPEN.day_of_week), own=np.ones((1, 7)), weight=np.ones(1)
    )
    np.testing.assert_allclose(after, [[1.25, 1.5]])
    assert before == 1.0


def test_carried_demand_is_told_by_the_closed_weekday() -> None:
    # A busy Friday carries more into a Monday than a quiet one.
    closures, own = closures_of(OPEN), np.ones((2, 7))
    own[0, 4] = 3.0
    total = np.full(len(OPEN), 100.0)
    total[closures.after] = 200.0
    after, _ = closure_factors(total, closures, weekday=np.asarray(OPEN.day_of_week), own=own, weight=np.ones(2))
    assert (after[0] - 1.0)[0] == pytest.approx(3.0 * (after[1] - 1.0)[0])


def test_factors_are_one_before_any_closure_was_seen() -> None:
    closures = closures_of(OPEN)
    after, before = closure_factors(
        np.full(5, 100.0), closures, weekday=np.asarray(OPEN.day_of_week), own=np.ones((1, 7)), weight=np.ones(1)
    )
    assert np.all(after == 1.0)
    assert before == 1.0


def test_forecast_expects_more_on_the_day_after_a_coming_closure() -> None:
    days = pd.bdate_range("2026-01-05", periods=420)
    is_closed = np.arange(420) % 23 == 11
    rng = np.random.default_rng(3)
    units = rng.poisson(4.0 * (1.0 + np.roll(is_closed, 1))[:, None], size=(420, 30)).astype(float)
    history = pd.DataFrame(units, index=days)[~is_closed].iloc[:-10]
    plain, beside = (pd.bdate_range(history.index[-1] + pd.Timedelta(days=1), periods=5).delete(k) for k in (4, 1))
    usual, after = (forecast(history, horizons=[2], calendar=coming[:4]).mean[:, 0] for coming in (plain, beside))
    # One day of four units more, among the two days.
    assert (after / usual).mean() == pytest.approx(1.5, abs=0.08)
