"""Periods of a table: days, weeks, months or whole numbers, and what is missing between them."""

from __future__ import annotations

from enum import StrEnum
from typing import TypedDict

import numpy as np
import pandas as pd
from pandas.api.types import is_integer_dtype

from forecasting.errors import DemandTableError, HorizonError

# Steps below the shortest month are days or weeks.
SHORTEST_MONTH_DAYS = 28
WEEK_DAYS = 7
MONTHS_PER_YEAR = 12
SATURDAY = 5


class Step(StrEnum):
    """What lies between two periods of a table."""

    NUMBER = "number"
    DAY = "day"
    WEEK = "week"
    MONTH = "month"


class Seasons(TypedDict, total=False):
    """Arguments of ``forecast``."""

    calendar: pd.DatetimeIndex
    season_length: int


def step_of(periods: pd.Index) -> Step:
    """Return the step of ascending dates or whole numbers.

    Months where all dates have one day of the month or end it, weeks where all are whole weeks apart, else days.
    """
    if not isinstance(periods, pd.DatetimeIndex):
        return Step.NUMBER
    days = np.diff(periods).astype("timedelta64[D]").astype(np.int64)
    if days.size == 0:
        return Step.DAY
    if days.min() >= SHORTEST_MONTH_DAYS and (periods.day.nunique() == 1 or periods.is_month_end.all()):
        return Step.MONTH
    return Step.WEEK if np.all(days % WEEK_DAYS == 0) else Step.DAY


def first_gap(periods: pd.Index) -> tuple[int, object] | None:
    """Return the place of the first period that another one is missing before, and the missing one; None if none is.

    Parameters
    ----------
    periods : Index
        Ascending dates or whole numbers. Of days only those are missed whose weekday occurs at all; in less than two
        weeks every one from Monday to Friday.
    """
    if isinstance(periods, pd.DatetimeIndex):
        missing = _dates_between(periods).difference(periods)
        return (int(periods.searchsorted(missing[0])), missing[0]) if len(missing) else None
    is_gap = np.diff(periods) > 1
    at = int(is_gap.argmax()) + 1 if is_gap.any() else 0
    return (at, periods[at - 1] + 1) if at else None


def check_consecutive(periods: pd.Index) -> None:
    """Raise where a week, month or number is missing, or a day of a table that has all seven weekdays.

    Days of fewer weekdays are ship days: one of them may be a holiday.

    Raises
    ------
    DemandTableError
        With the row before which one is missing.
    """
    if isinstance(periods, pd.DatetimeIndex):
        if step_of(periods) is Step.DAY and periods.day_of_week.nunique() < WEEK_DAYS:
            return
    elif not is_integer_dtype(periods.dtype):
        return
    gap = first_gap(periods)
    if gap is not None:
        at, missing = gap
        raise DemandTableError("period {missing!s} is missing before row {row!s}", missing=missing, row=periods[at])


def _dates_between(dates: pd.DatetimeIndex) -> pd.DatetimeIndex:
    first, last, step = dates[0], dates[-1], step_of(dates)
    if step is Step.WEEK:
        return pd.date_range(first, last, freq=f"{WEEK_DAYS}D")
    if step is Step.MONTH and dates.is_month_end.all():
        return pd.date_range(first, last, freq="ME")
    if step is Step.MONTH:
        return pd.date_range(first.replace(day=1), last, freq="MS") + pd.Timedelta(days=first.day - 1)
    every_day = pd.date_range(first, last)
    # A short record cannot show that a weekday never occurs, unless it is one of the weekend.
    is_short = len(every_day) < 2 * WEEK_DAYS
    return every_day[every_day.day_of_week.isin(dates.day_of_week) | (is_short & (every_day.day_of_week < SATURDAY))]


def seasons_of(periods: pd.Index, *, longest: int) -> Seasons:
    """Return what ``forecast`` takes to know the season: the coming days, or the months of a year.

    Raises
    ------
    HorizonError
        If dates do not reach as far as the ``longest`` coming days.
    """
    step = step_of(periods)
    if step is Step.DAY:
        days = pd.DatetimeIndex(periods)
        try:
            following = pd.date_range(days[-1] + pd.Timedelta(days=1), periods=WEEK_DAYS * longest)
        except pd.errors.OutOfBoundsDatetime as error:
            raise HorizonError(
                "no calendar holds the next {n} days after {last!s}", n=longest, last=days[-1].date()
            ) from error
        return {"calendar": following[following.day_of_week.isin(days.day_of_week)][:longest]}
    return {"season_length": MONTHS_PER_YEAR} if step is Step.MONTH else {}
