"""Steps and gaps of periods. Dates from the calendar; the rules are ours: common practice, no source."""

from __future__ import annotations

import pandas as pd
import pytest

from forecasting.periods import Step, first_gap, seasons_of, step_of

SHIP_DAYS = pd.bdate_range("2027-01-04", periods=40)
MONTHS = {"first": pd.date_range("2027-01-01", periods=14, freq="MS"),
          "fifteenth": pd.date_range("2027-01-01", periods=14, freq="MS") + pd.Timedelta(days=14),
          "last": pd.date_range("2027-01-31", periods=14, freq="ME")}  # fmt: skip
WEEKS = pd.date_range("2027-01-04", periods=30, freq="7D")


@pytest.mark.parametrize(
    ("periods", "step"),
    [(SHIP_DAYS, Step.DAY), (SHIP_DAYS[:1], Step.DAY), (WEEKS, Step.WEEK), (pd.RangeIndex(3), Step.NUMBER)]
    + [(months, Step.MONTH) for months in MONTHS.values()],
)
def test_step_is_told_from_the_dates(periods: pd.Index, step: Step) -> None:
    assert step_of(periods) is step


@pytest.mark.parametrize("periods", [SHIP_DAYS, WEEKS, pd.Index([7, 8, 9]), *MONTHS.values()])
def test_gap_is_none_when_periods_follow_each_other_and_found_when_one_is_taken_out(periods: pd.Index) -> None:
    assert first_gap(periods) is None
    place = len(periods) // 2
    assert first_gap(periods.delete(place)) == (place, periods[place])


def test_gap_is_none_between_friday_and_monday_until_a_saturday_occurs() -> None:
    with_saturday = SHIP_DAYS.append(pd.DatetimeIndex(["2027-02-27"]))  # the Saturday after the last Friday
    assert first_gap(SHIP_DAYS) is None
    assert first_gap(with_saturday) == (5, pd.Timestamp("2027-01-09"))


def test_coming_days_go_on_with_the_weekdays_of_the_record() -> None:
    calendar = seasons_of(SHIP_DAYS, longest=6)["calendar"]  # the record ends on Friday 2027-02-26
    assert list(calendar) == list(pd.bdate_range("2027-03-01", periods=6))


def test_season_is_a_year_for_months_and_none_for_weeks_and_numbers() -> None:
    assert seasons_of(MONTHS["last"], longest=3) == {"season_length": 12}
    assert seasons_of(WEEKS, longest=3) == seasons_of(pd.RangeIndex(5), longest=3) == {}
