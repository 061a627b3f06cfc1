"""Factors of weekdays, or of places in a season, pooled over SKUs of a group so that sparse SKUs borrow them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.errors import AttributeTableError, HorizonError
from forecasting.season import periods_per_year

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# A group's factor counts as much as the factor of all SKUs once the group expects so many units; a rule of ours,
# chosen so that a weekday with 100 sold units has a standard error of about a tenth.
PRIOR_UNITS = 100.0
# A weekday on which next to nothing sells must not blow up the demand divided by its factor.
LEAST_FACTOR = 0.1


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
        Periods per year, where a calendar is given.
    """

    past: IntArray
    ahead: IntArray
    count: int
    month: IntArray | None = None
    year: int = 0

    @property
    def season_length(self) -> int:
        """Number of different phases that the record shows: the season of the naive forecast."""
        return int(np.unique(self.past).size)


def phases_of(
    periods: pd.Index, *, longest: int, calendar: pd.DatetimeIndex | None, season_length: int | None
) -> Phases:
    """Return weekdays where a calendar of the coming periods is given, else places in the season, else one phase.

    Raises
    ------
    HorizonError
        If the calendar is too short, does not follow the history, or the history is not dated.
    """
    if calendar is not None:
        past, ahead = _dates(periods, what="history"), _dates(pd.Index(calendar), what="calendar")
        if ahead.size < longest:
            raise HorizonError(f"the calendar must hold the next {longest} periods; got {ahead.size}")
        if ahead[0] <= past[-1] or not ahead.is_monotonic_increasing:
            raise HorizonError(f"the calendar must ascend and start after {past[-1].date()}; got {ahead[0].date()}")
        ahead = ahead[:longest]
        month = _integers(pd.DatetimeIndex(past.append(ahead)).month) - 1
        return Phases(_integers(past.day_of_week), _integers(ahead.day_of_week), 7, month, periods_per_year(past))
    length = 1 if season_length is None else season_length
    if length < 1:
        raise HorizonError(f"season_length must be >= 1; got {length}")
    place = np.arange(len(periods) + longest, dtype=np.int64) % length
    return Phases(place[: len(periods)], place[len(periods) :], length)


def _dates(index: pd.Index, *, what: str) -> pd.DatetimeIndex:
    try:
        return pd.DatetimeIndex(index)
    except (TypeError, ValueError) as error:
        raise HorizonError(f"weekdays need dates; the {what} starts with {index[0]!r}") from error


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
        raise AttributeTableError(f"SKU {attributes.index[attributes.index.duplicated()][0]!r} is listed twice")
    missing = skus.difference(attributes.index)
    if len(missing):
        raise AttributeTableError(f"attributes lack SKU {missing[0]!r} ({len(missing)} missing)")
    if attributes.shape[1] == 0:
        raise AttributeTableError("attributes need at least one column")
    return np.asarray(pd.factorize(attributes.loc[skus].iloc[:, 0], use_na_sentinel=False)[0], dtype=np.int64)


def phase_factors(units: FloatArray, *, phase: IntArray, n_phases: int, group: IntArray) -> FloatArray:
    """Return the factor of each phase for each group, averaging about 1 over the periods.

    Ratio of the units sold in a phase to the units expected there if all phases were alike, shrunk to the ratio over
    all SKUs, which is shrunk to 1: (units + K prior) / (expected + K), K prior units.

    Parameters
    ----------
    units : ndarray, shape (n, T)
        Demand before the origin; NaN where unknown.
    phase : ndarray of int, shape (T,)
    n_phases : int
    group : ndarray of int, shape (n,)

    Returns
    -------
    ndarray of float, shape (groups, n_phases)
    """
    known = ~np.isnan(units)
    in_phase = (phase[:, None] == np.arange(n_phases)).astype(float)
    sold = np.where(known, units, 0.0)
    mean = sold.sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    n_groups = int(group.max(initial=0)) + 1
    member = (np.arange(n_groups)[:, None] == group).astype(float)
    units_by_phase = member @ (sold @ in_phase)
    expected = member @ ((known @ in_phase) * mean[:, None])
    overall = (units_by_phase.sum(axis=0) + PRIOR_UNITS) / (expected.sum(axis=0) + PRIOR_UNITS)
    factors = (units_by_phase + PRIOR_UNITS * overall) / (expected + PRIOR_UNITS)
    return np.asarray(np.maximum(factors, LEAST_FACTOR))
