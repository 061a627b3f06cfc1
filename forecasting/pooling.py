"""Factors of weekdays, or of places in a season: a SKU's own as far as they prove themselves, else those of its kin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.closures import WEEKDAYS, Closures, closures_of
from forecasting.errors import AttributeTableError, HorizonError
from forecasting.messages import Message, message
from forecasting.periods import Step, step_of
from forecasting.season import periods_per_year

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# A group's factor counts as much as the factor of all SKUs once the group expects so many units; a rule of ours,
# chosen so that a weekday with 100 sold units has a standard error of about a tenth.
PRIOR_UNITS = 100.0
# A weekday on which next to nothing sells must not blow up the demand divided by its factor.
LEAST_FACTOR = 0.05
# A season of so many places is a year, and years differ more than weeks: weight of a season against the one after it.
YEAR_PHASES, YEAR_MEMORY, WEEK_MEMORY = 12, 0.8, 0.97
# The level that a season is measured against is a mean over whole seasons of at least so many periods.
LEVEL_PERIODS = 12


@dataclass(frozen=True)
class Phases:
    """Phase of each past and coming period: its weekday, or its place in the season.

    Attributes
    ----------
    past, ahead : ndarray of int
        Phase of the T periods of history and of the H coming ones.
    count : int
        Number of phases; 1 where neither a calendar nor a season length is given.
    month : ndarray of int, shape (T + H,), or None
        Month of each period, 0 to 11, where a calendar is given.
    year : int
        Periods per year; 0 where the periods are no dates.
    closures : Closures, or None
        The ship days beside closed days, where a calendar is given.
    """

    past: IntArray
    ahead: IntArray
    count: int
    month: IntArray | None = None
    year: int = 0
    closures: Closures | None = None

    def until(self, origin: int, *, longest: int) -> Phases:
        """Return the phases as they stand when so many periods are known."""
        last = origin + longest
        phase = np.concatenate([self.past, self.ahead])
        month = None if self.month is None else self.month[:last]
        closures = None if self.closures is None else self.closures.until(last)
        return Phases(phase[:origin], phase[origin:last], self.count, month, self.year, closures)

    @property
    def season_length(self) -> int:
        """Number of different phases that the record shows: the season of the naive forecast."""
        return int(np.unique(self.past).size)


def phases_of(
    periods: pd.Index, *, longest: int, calendar: pd.DatetimeIndex | None, season_length: int | None
) -> Phases:
    """Return weekdays where a calendar of the coming periods is given, else places in the season, else one phase.

    Months have no weekdays, calendar or not. Without calendar and season length the season follows from dates in equal
    steps: days repeat by the week, weeks, months and quarters by the year.

    Raises
    ------
    HorizonError
        If the calendar is too short, does not follow the history, or the history is not dated.
    """
    if calendar is not None:
        past, ahead = _checked_calendar(periods, calendar, longest=longest)
        if step_of(past) is not Step.MONTH:
            days = pd.DatetimeIndex(past.append(ahead))
            month, weekday = _integers(days.month) - 1, _integers(days.day_of_week)
            known, coming = np.split(weekday, [len(past)])
            return Phases(known, coming, WEEKDAYS, month, periods_per_year(past), closures_of(days))
    length = _season_of(periods) if season_length is None else season_length
    if length < 1 or length != int(length):
        raise HorizonError("season_length must be a whole number >= 1; got {length}", length=length)
    place = np.arange(len(periods) + longest, dtype=np.int64) % int(length)
    year = periods_per_year(periods) if isinstance(periods, pd.DatetimeIndex) else 0
    return Phases(place[: len(periods)], place[len(periods) :], int(length), year=year)


def _checked_calendar(
    periods: pd.Index, calendar: pd.DatetimeIndex, *, longest: int
) -> tuple[pd.DatetimeIndex, pd.DatetimeIndex]:
    past, ahead = _dates(periods, what=message("history")), _dates(pd.Index(calendar), what=message("calendar"))
    if ahead.size < longest:
        raise HorizonError("the calendar must hold the next {n} periods; got {got}", n=longest, got=ahead.size)
    if ahead[0] <= past[-1] or not ahead.is_monotonic_increasing:
        raise HorizonError(
            "the calendar must ascend and start after {last!s}; got {first!s}",
            last=past[-1].date(),
            first=ahead[0].date(),
        )
    return past, ahead[:longest]


def _season_of(periods: pd.Index) -> int:
    """Return the periods per season of dates in equal steps; 1 where they are not dates or not in equal steps."""
    if not isinstance(periods, pd.DatetimeIndex) or len(periods) < 2:
        return 1
    days = np.diff(periods.to_numpy()) / np.timedelta64(1, "D")
    for length, shortest, longest in ((7, 1, 1), (52, 7, 7), (12, 28, 31), (4, 90, 92)):
        if days.min() >= shortest and days.max() <= longest:
            return length
    return 1


def _dates(index: pd.Index, *, what: Message) -> pd.DatetimeIndex:
    try:
        return pd.DatetimeIndex(index)
    except (TypeError, ValueError) as error:
        raise HorizonError(
            "weekdays need dates; the {what} starts with {first!r}", what=what, first=index[0]
        ) from error


def _integers(values: pd.Index) -> IntArray:
    return np.asarray(values, dtype=np.int64)


def groups_of(skus: pd.Index, attributes: pd.DataFrame | None) -> IntArray:
    """Return the group of each SKU: the values of the first attribute, or one group without attributes.

    Raises
    ------
    AttributeTableError
        If a SKU is missing from the attributes or listed twice.
    """
    if attributes is None:
        return np.zeros(len(skus), dtype=np.int64)
    if not attributes.index.is_unique:
        twice = attributes.index[attributes.index.duplicated()][0]
        raise AttributeTableError("SKU {sku!r} is listed twice", sku=twice)
    missing = skus.difference(attributes.index)
    if len(missing):
        raise AttributeTableError("attributes lack SKU {sku!r} ({n} missing)", sku=missing[0], n=len(missing))
    if attributes.shape[1] == 0:
        raise AttributeTableError("attributes need at least one column")
    return np.asarray(pd.factorize(attributes.loc[skus].iloc[:, 0], use_na_sentinel=False)[0], dtype=np.int64)


def phase_factors(units: FloatArray, *, phase: IntArray, n_phases: int, group: IntArray) -> FloatArray:
    """Return the factor of each phase for each SKU, averaging 1 over the periods of the record.

    The ratio r of the units sold in a phase to those expected there from the level (a centred mean over whole
    seasons), younger seasons counting more, is shrunk to that of the group, R, as far as its own noise explains the
    difference:

        f = R + t (r - R) / (t + n),   t = max(0, mean over phases of (r - R)^2 - n),

    n the sampling variance of r. R is shrunk in turn to the ratio over all SKUs, and that to 1, by ``PRIOR_UNITS``.

    Parameters
    ----------
    units : ndarray, shape (n, T)
        Demand before the origin; NaN where unknown.
    phase : ndarray of int, shape (T,)
    n_phases : int
    group : ndarray of int, shape (n,)

    Returns
    -------
    ndarray of float, shape (n, n_phases)
        Ones where the record shows no two seasons.

    References
    ----------
    Efron, B. & Morris, C. (1975), Data analysis using Stein's estimator and its generalizations, Journal of the
    American Statistical Association 70, 311-319: shrinkage with the variance between units by moments.
    """
    from forecasting.compiled.phases import phase_sums  # noqa: PLC0415 - numba is loaded when first needed

    season, periods = int(np.unique(phase).size), phase.size
    if season < 2 or periods < 2 * season:
        return np.ones((units.shape[0], n_phases))
    is_used = np.ones(periods)
    if n_phases >= YEAR_PHASES and periods >= 2 * season + season // 2:
        # Without half a year on either side a trend would pass for a season.
        is_used[: season // 2] = is_used[periods - season // 2 :] = 0.0
    memory = YEAR_MEMORY if n_phases >= YEAR_PHASES else WEEK_MEMORY
    weight = is_used * memory ** ((periods - 1 - np.arange(periods)) // season)
    width = min(season * -(-LEVEL_PERIODS // season), periods)
    (sold, expected, seen, seen_squares), squares, level = phase_sums(units, phase, weight, n_phases, width)
    pooled = _pooled_ratio(sold, expected, group=group)
    own = np.divide(sold, expected, out=pooled.copy(), where=expected > 0)
    occurs = np.isin(np.arange(n_phases), phase[weight > 0])
    mean = np.maximum(level, 1e-9)
    of_units, of_both, of_level, counted = squares
    # (y - own x level)^2, multiplied out.
    deviation = (of_units - own * (2.0 * of_both - own * of_level)).sum(axis=1)
    variance = deviation / np.maximum(counted.sum(axis=1) - occurs.sum(), 1.0)
    # Weights w count like (sum w)^2 / sum w^2 equal ones; one period varies at least as Poisson.
    equal = seen**2 / np.maximum(seen_squares, 1e-9)
    noise = np.maximum(variance / mean**2, 1.0 / mean)[:, None] / np.maximum(equal, 1e-9)
    between = np.maximum(((own - pooled) ** 2 - noise)[:, occurs].mean(axis=1), 0.0)[:, None]
    factors = np.maximum(pooled + between / (between + noise) * (own - pooled), LEAST_FACTOR)
    share = np.bincount(phase, minlength=n_phases) / periods
    return np.asarray(factors / (factors @ share)[:, None])


def _pooled_ratio(sold: FloatArray, expected: FloatArray, *, group: IntArray) -> FloatArray:
    """Return the ratio of each SKU's group, shape (n, phases), shrunk to that of all and to 1."""
    member = (np.arange(int(group.max(initial=0)) + 1)[:, None] == group).astype(float)
    overall = (sold.sum(axis=0) + PRIOR_UNITS) / (expected.sum(axis=0) + PRIOR_UNITS)
    by_group = (member @ sold + PRIOR_UNITS * overall) / (member @ expected + PRIOR_UNITS)
    return np.asarray(by_group[group])
