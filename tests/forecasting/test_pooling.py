"""Factors of weekday and season."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import AttributeTableError, HorizonError
from forecasting.pooling import PRIOR_UNITS, groups_of, phase_factors, phases_of

WEEKS = 400
WEEK = np.array([2.0, 1.0, 1.0, 0.5, 0.5])


def _poisson(mean: np.ndarray) -> np.ndarray:
    return np.random.default_rng(8).poisson(np.tile(mean, WEEKS)).astype(float)


def _factors(units: np.ndarray, *, group: np.ndarray | None = None) -> np.ndarray:
    group = np.zeros(len(units), dtype=int) if group is None else group
    return phase_factors(units, phase=np.tile(np.arange(5), WEEKS), n_phases=5, group=group)


def test_factors_find_the_week_that_made_the_demand() -> None:
    units = _poisson(50.0 * np.stack([WEEK, np.ones(5)]))
    # Two SKUs of one group, and each has enough sales to show its own week.
    np.testing.assert_allclose(_factors(units), [WEEK, np.ones(5)], rtol=0.03)


def test_factors_stay_near_one_when_hardly_anything_is_sold() -> None:
    # By hand: 0.4 units expected on a weekday against a prior of 100 units.
    assert PRIOR_UNITS == 100.0
    np.testing.assert_allclose(_factors(np.tile(1e-3 * WEEK, (1, WEEKS))), 1.0, atol=5e-3)


def test_sku_borrows_the_week_of_its_group_when_it_sells_little() -> None:
    rate = np.concatenate([np.full(40, 5.0), [0.05]])
    units = _poisson(rate[:, None] * WEEK)
    own = units[-1].reshape(WEEKS, 5).sum(axis=0) / units[-1].sum() * 5
    factors = _factors(units)[-1]
    # About 20 sales a weekday have a standard error of a fifth; the group knows within a hundredth.
    assert np.abs(factors - WEEK).max() < np.abs(own - WEEK).max()
    np.testing.assert_allclose(factors, WEEK, rtol=0.1)


def test_group_borrows_from_all_skus_when_it_sells_little() -> None:
    units = np.concatenate([_poisson(2000.0 * WEEK[None, :]), np.zeros((1, 5 * WEEKS))])
    np.testing.assert_allclose(_factors(units, group=np.array([0, 1]))[1], WEEK, rtol=0.03)


def test_trend_alone_gives_no_season() -> None:
    units = 100.0 * np.linspace(1.0, 2.0, 60)[None, :]
    phase = np.arange(60) % 12
    np.testing.assert_allclose(phase_factors(units, phase=phase, n_phases=12, group=np.array([0])), 1.0, atol=0.01)


def test_factors_are_one_when_the_record_shows_no_two_seasons() -> None:
    units = np.tile(100.0 * np.arange(1.0, 13.0), 2)[None, :23]
    phase = np.arange(23) % 12
    np.testing.assert_array_equal(phase_factors(units, phase=phase, n_phases=12, group=np.array([0])), np.ones((1, 12)))


def test_factors_average_one_over_the_periods_of_the_record() -> None:
    factors = _factors(_poisson(30.0 * np.stack([WEEK, WEEK[::-1]])))
    np.testing.assert_allclose(factors.mean(axis=1), 1.0, rtol=1e-9)


@pytest.mark.parametrize(
    ("step", "season"), [("D", 7), ("7D", 52), ("MS", 12), ("QS", 4), ("B", 1), ("YS", 1), ("h", 1)]
)
def test_season_follows_from_dates_in_equal_steps(step: str, season: int) -> None:
    periods = pd.date_range("2024-01-01", periods=120, freq=step)
    assert phases_of(periods, longest=1, calendar=None, season_length=None).count == season


def test_season_is_none_when_the_periods_are_no_dates() -> None:
    assert phases_of(pd.RangeIndex(50), longest=1, calendar=None, season_length=None).count == 1


def test_phases_are_weekdays_when_a_calendar_is_given() -> None:
    past, ahead = pd.bdate_range("2026-03-05", periods=3), pd.bdate_range("2026-03-10", periods=4)
    phases = phases_of(past, longest=2, calendar=ahead, season_length=None)
    # 2026-03-05 is a Thursday (ISO 8601 calendar), Monday is 0.
    assert (phases.past.tolist(), phases.ahead.tolist(), phases.season_length) == ([3, 4, 0], [1, 2], 3)


def test_phases_are_places_in_the_season_when_its_length_is_given() -> None:
    phases = phases_of(pd.RangeIndex(5), longest=3, calendar=None, season_length=4)
    assert (phases.past.tolist(), phases.ahead.tolist()) == ([0, 1, 2, 3, 0], [1, 2, 3])


def test_calendar_is_refused_when_too_short_or_not_after_the_history() -> None:
    days = pd.bdate_range("2026-03-02", periods=10)
    with pytest.raises(HorizonError, match="next 4 periods; got 3"):
        phases_of(days[:5], longest=4, calendar=days[5:8], season_length=None)
    with pytest.raises(HorizonError, match="start after 2026-03-06"):
        phases_of(days[:5], longest=3, calendar=days[4:8], season_length=None)


def test_calendar_is_refused_when_the_history_has_no_dates() -> None:
    with pytest.raises(HorizonError, match="history starts with 'first'"):
        phases_of(
            pd.Index(["first", "next"]), longest=1, calendar=pd.bdate_range("2026-03-02", periods=2), season_length=None
        )


def test_attributes_name_the_sku_when_it_is_missing_or_twice() -> None:
    skus = pd.Index(["A", "B"])
    with pytest.raises(AttributeTableError, match="lack SKU 'B'"):
        groups_of(skus, pd.DataFrame({"material": ["x"]}, index=["A"]))
    with pytest.raises(AttributeTableError, match="'A' is listed twice"):
        groups_of(skus, pd.DataFrame({"material": ["x", "y", "z"]}, index=["A", "A", "B"]))
