"""Demand beside closed days: what came while the plant was closed is due on the next ship day.

A ship day after closed ones has its own demand and a share of what the closed days would have had:

    factor = 1 + carried x (sum of the factors of the closed weekdays) / (factor of its own weekday),

and the last ship day before a closure has a factor of its own. Both are pooled over all SKUs and learned from the past
closures of the table: dates that it leaves out though their weekday is a ship day.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

WEEKDAYS = 7
# A weekday is a ship day if it occurs in at least half of its weeks.
SHIP_DAY_SHARE = 0.5
# Closures that no effect counts for; days on either side that the level is a mean of. Rules of ours.
PRIOR_CLOSURES, LEVEL_DAYS = 2.0, 10
MOST_CARRIED, LEAST_BEFORE, MOST_BEFORE = 1.5, 0.5, 2.0


@dataclass(frozen=True)
class Closures:
    """Ship days beside closed days, among T + H ship days.

    Attributes
    ----------
    after : ndarray of int, shape (c,)
        Places of the ship days that follow closed ones.
    closed : ndarray of int, shape (c, 7)
        How many closed days of each weekday lie before each of them.
    before : ndarray of int
        Places of the ship days that a closed day follows.
    """

    after: IntArray
    closed: IntArray
    before: IntArray

    def until(self, end: int) -> Closures:
        """Return those among the first ``end`` ship days, as known there: what follows the last is not."""
        kept = self.after < end
        return Closures(self.after[kept], self.closed[kept], self.before[self.before < end])


def closures_of(days: pd.DatetimeIndex) -> Closures:
    """Return the ship days beside closed days, of ascending dates."""
    every = pd.date_range(days[0], days[-1])
    weekday = np.asarray(every.day_of_week, dtype=np.int64)
    is_open = np.isin(np.asarray(every), np.asarray(days))
    share = np.bincount(weekday[is_open], minlength=WEEKDAYS) / np.maximum(np.bincount(weekday, minlength=WEEKDAYS), 1)
    is_closed = ~is_open & (share[weekday] >= SHIP_DAY_SHARE)
    counts = np.cumsum(is_closed[:, None] & (weekday[:, None] == np.arange(WEEKDAYS)), axis=0)[is_open]
    between = np.diff(counts, axis=0, prepend=counts[:1])
    after = np.flatnonzero(between.any(axis=1))
    return Closures(after, between[after], after - 1)


def closure_factors(
    total: FloatArray, closures: Closures, *, weekday: IntArray, own: FloatArray, weight: FloatArray
) -> tuple[FloatArray, float]:
    """Return the factors of the days after closed ones, shape (n, c), and the factor of the days before them.

    Parameters
    ----------
    total : ndarray, shape (T,)
        Demand of all SKUs over their other factors.
    closures : Closures
        Of T + H ship days.
    weekday : ndarray of int, shape (T + H,)
    own : ndarray, shape (n, 7)
        Factors of the weekdays.
    weight : ndarray, shape (n,)
        What each SKU sells, for the mean over SKUs.
    """
    past = closures.until(total.size)
    carries = own @ closures.closed.T / own[:, weekday[closures.after]]
    level = _level(total, beside=np.union1d(past.after, past.before))
    share = weight / max(float(weight.sum()), 1e-9)
    expected = level[past.after] * (share @ carries[:, : past.after.size])
    carried = _shrunk(total[past.after] - level[past.after], expected, most=MOST_CARRIED)
    # A day between two closures is one after, and says nothing of the days before.
    alone = np.setdiff1d(past.before, past.after)
    before = 1.0 + _shrunk(total[alone] - level[alone], level[alone], most=MOST_BEFORE - 1.0)
    return 1.0 + carried * carries, max(before, LEAST_BEFORE)


def _shrunk(excess: FloatArray, expected: FloatArray, *, most: float) -> float:
    """Return the ratio of the sums, drawn to 0 by the number of days behind it."""
    if float(expected.sum()) <= 0:
        return 0.0
    trust = excess.size / (excess.size + PRIOR_CLOSURES)
    return float(np.clip(trust * excess.sum() / expected.sum(), -LEAST_BEFORE, most))


def _level(total: FloatArray, *, beside: IntArray) -> FloatArray:
    """Return the centred mean of the days that are not beside a closure."""
    plain = pd.Series(total)
    plain.iloc[beside] = np.nan
    return plain.rolling(2 * LEVEL_DAYS + 1, center=True, min_periods=1).mean().fillna(0.0).to_numpy()
