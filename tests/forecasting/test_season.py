"""Factors of the months."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.season import MONTHS, month_factors, periods_per_year

DAYS = pd.bdate_range("2023-01-02", "2026-12-31")
MONTH = DAYS.month.to_numpy() - 1


def _demand(*, december: float) -> np.ndarray:
    return 1e4 * np.where(MONTH == 11, december, 1.0)[None, :]


def test_year_has_as_many_periods_as_weekdays() -> None:
    # 52 weeks of 5 days and one day or two: about 261 (calendar arithmetic, no source).
    assert periods_per_year(DAYS) == 261


def test_month_factor_finds_the_season_that_made_the_demand() -> None:
    factors = month_factors(_demand(december=1.5), month=MONTH, year=261)[0]
    # By hand: the mean of a year is 1 + 0.5 / 12; three years of a month count 3 / 3.5.
    level, trust = 1 + 0.5 / 12, 3 / 3.5
    assert factors[11] == pytest.approx(1 + trust * (1.5 / level - 1), rel=0.01)
    assert factors[5] == pytest.approx(1 + trust * (1.0 / level - 1), rel=0.01)


def test_month_factors_are_one_when_the_record_is_a_year() -> None:
    one_year = _demand(december=1.5)[:, :261]
    factors = month_factors(one_year, month=MONTH[:261], year=261)
    np.testing.assert_array_equal(factors, np.ones((1, MONTHS)))


def test_group_borrows_the_season_of_all_skus_when_it_sells_little() -> None:
    units = np.concatenate([_demand(december=1.5), np.full((1, len(DAYS)), 1e-6)])
    factors = month_factors(units, month=MONTH, year=261)
    np.testing.assert_allclose(factors[1], factors[0], rtol=1e-2)


def test_trend_alone_gives_no_season() -> None:
    units = 1e4 * np.linspace(1.0, 2.0, len(DAYS))[None, :]
    np.testing.assert_allclose(month_factors(units, month=MONTH, year=261), 1.0, atol=0.01)
