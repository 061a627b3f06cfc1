"""Factors of weekday and season."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import AttributeTableError, HorizonError
from forecasting.pooling import PRIOR_UNITS, groups_of, phase_factors, phases_of

WEEKS = 400


def _factors(*, scale: float) -> np.ndarray:
    week = np.array([2.0, 1.0, 1.0, 0.5, 0.5])
    flat = np.ones(5)
    units = scale * np.array([np.tile(week, WEEKS), np.tile(flat, WEEKS)])
    return phase_factors(units, phase=np.tile(np.arange(5), WEEKS), n_phases=5, group=np.array([0, 1]))


def test_factors_find_the_week_that_made_the_demand() -> None:
    np.testing.assert_allclose(_factors(scale=1e4)[0], [2.0, 1.0, 1.0, 0.5, 0.5], rtol=1e-3)


def test_factors_stay_near_one_when_hardly_anything_is_sold() -> None:
    factors = _factors(scale=1e-4)
    # By hand: 0.04 units expected against a prior of 100 units.
    assert PRIOR_UNITS == 100.0
    np.testing.assert_allclose(factors, 1.0, atol=1e-3)


def test_group_borrows_from_all_skus_when_it_sells_little() -> None:
    week = np.tile([1.5, 0.5], WEEKS)
    units = np.array([1e3 * week, 1e-6 * np.ones(2 * WEEKS)])
    factors = phase_factors(units, phase=np.tile([0, 1], WEEKS), n_phases=2, group=np.array([0, 1]))
    np.testing.assert_allclose(factors[1], [1.5, 0.5], rtol=1e-3)


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
