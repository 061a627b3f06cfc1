"""Expected units missed and late unit-days of every SKU, as a function of what is supplied when.

Letters used throughout: S(t) supply cumulated by ship day t (shelf + what is shelved before the pick-up of t), D(t)
demand cumulated by t: late lines + open lines due by t (both certain) + demand still to arrive, which is negative
binomial by its mean and variance (Poisson where the variance is not above the mean).
First due is first served, so

    m(t) = E[(D(t) - S(t))+] - E[(D(t-1) - S(t))+]        units due on t that do not ship on t
    l(t) = E[(D(t) - S(t))+]                              units late at the end of t

A unit that is late goes on counting as `late_day_weight` of a miss for each further ship day that it waits.
Without that, what is already late would be worth nothing and drop off the list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, gammainc, gammaln

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TAIL_SD = 6.0
# Below this mean (units over the horizon) a negative binomial is taken as Poisson: a miss in a million at most.
LEAST_MEAN = 1e-6


@dataclass(frozen=True)
class Demand:
    """Cumulated demand of S SKUs over T ship days.

    Parameters
    ----------
    late : (S,) units on open lines that were due before the first day.
    due : (S, T) units on open lines due by each day, late ones not included.
    mean, variance : (S, T) of the demand still to arrive, cumulated; both grow with T.
    """

    late: Ints
    due: Ints
    mean: Floats
    variance: Floats

    def __post_init__(self) -> None:
        if not self.due.shape == self.mean.shape == self.variance.shape:
            raise ValueError(f"due, mean, variance differ: {self.due.shape}, {self.mean.shape}, {self.variance.shape}")
        if self.late.shape != self.mean.shape[:1]:
            raise ValueError(f"late has shape {self.late.shape}, expected {self.mean.shape[:1]}")
        if np.any(self.mean < 0) or np.any(np.diff(self.mean, axis=1) < -1e-9):
            raise ValueError("the mean of cumulated demand is negative or falls")


def at_least(k: NDArray[np.float64], *, mean: Floats, variance: Floats, size_up: float = 0.0) -> Floats:
    """Return P(D >= k) elementwise, D negative binomial by moments; `size_up` is added to its size parameter r."""
    positive = np.maximum(k, 1.0)
    is_poisson, r, failure = _limits(mean, variance)
    tail = np.where(is_poisson, gammainc(positive, mean), betainc(positive, r + size_up, failure))
    return np.where(k <= 0, 1.0, np.where(mean > 0, tail, 0.0))


def expected_shortage(x: NDArray[np.float64], *, mean: Floats, variance: Floats) -> Floats:
    """Return E[(D - x)+] elementwise for integer x, which may be negative.

    E[(D - x)+] = mu P(D' >= x) - x P(D >= x + 1), D' of size r + 1 (Poisson: D' = D), for x >= 0; mu - x below.

    References
    ----------
    Johnson, Kemp & Kotz, Univariate Discrete Distributions, 3rd ed. 2005, incomplete moments (from memory); the tests
    check it against sums over scipy's probabilities.
    """
    x, mean, variance = np.broadcast_arrays(np.asarray(x, dtype=np.float64), mean, variance)
    above = np.maximum(x, 0.0)
    partial = mean * at_least(above, mean=mean, variance=variance, size_up=1.0)
    shortage = partial - above * at_least(above + 1, mean=mean, variance=variance)
    return np.where(x < 0, mean - x, np.maximum(shortage, 0.0))


def missed_units(supply: Ints, demand: Demand) -> Floats:
    """Return m(t), (S, T): units due on each day that do not ship on it, given cumulated supply (S, T)."""
    now, before = _shortages(supply, demand)
    return np.asarray(now - before)


def late_units(supply: Ints, demand: Demand) -> Floats:
    """Return l(t), (S, T): units late at the end of each day."""
    return _shortages(supply, demand)[0]


def total_misses(supply: Ints, demand: Demand, *, day_weight: Floats, late_day_weight: float) -> Floats:
    """Return the misses of each SKU, (S,): sum over days of weight x (m + late_day_weight x units late before it)."""
    now, before = _shortages(supply, demand)
    return np.asarray(((now - before) + late_day_weight * before) @ day_weight)


def _shortages(supply: Ints, demand: Demand) -> tuple[Floats, Floats]:
    """E[(D(t) - S(t))+] and E[(D(t-1) - S(t))+], with D(-1) the late lines."""
    certain = demand.late[:, None] + demand.due
    now = expected_shortage(supply - certain, mean=demand.mean, variance=demand.variance)
    before = np.empty_like(now)
    before[:, 0] = np.maximum(demand.late - supply[:, 0], 0)
    before[:, 1:] = expected_shortage(
        supply[:, 1:] - certain[:, :-1], mean=demand.mean[:, :-1], variance=demand.variance[:, :-1]
    )
    return now, before


@dataclass(frozen=True)
class MissTable:
    """Misses of one SKU on each day as a function of cumulated supply: cost[t, x - first]; constant beyond the end."""

    first: int
    cost: Floats

    def column(self, supply: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the column of each supply."""
        return np.asarray(np.minimum(supply - self.first, self.cost.shape[1] - 1))

    def total(self, supply: Ints, *, weights: Floats) -> float:
        """Return the weighted misses over all days for supply (T,)."""
        return float(weights @ self.cost[np.arange(len(supply)), self.column(supply)])

    def by_lot(self, supply: Ints, *, from_day: int, most: int, weights: Floats) -> Floats:
        """Return the weighted misses from `from_day` on, for lots of 0..most spools that arrive by that day.

        weights : of the days from `from_day` on.
        """
        if from_day >= len(supply):
            return np.zeros(most + 1)
        columns = self.column(supply[from_day:, None] + np.arange(most + 1)[None, :])
        rows = np.arange(from_day, len(supply))[:, None]
        return np.asarray(weights @ self.cost[rows, columns])


def miss_tables(first: Ints, demand: Demand, *, late_day_weight: float) -> tuple[MissTable, ...]:
    """Tabulate the misses of every SKU from the supply `first` (S,) upwards.

    SKUs of similar range are tabulated together, so that the work is a few array operations for the whole plant
    and the memory stays near the sum of the ranges.
    """
    reach = demand.late + demand.due[:, -1] + demand.mean[:, -1] + TAIL_SD * np.sqrt(demand.variance[:, -1]) + 2
    widths = np.maximum(np.ceil(reach).astype(np.int64) - first, 1)
    tables: dict[int, MissTable] = {}
    for bucket in np.unique(np.ceil(np.log2(widths))):
        rows = np.flatnonzero(np.ceil(np.log2(widths)) == bucket)
        costs = _costs(first[rows], rows, demand, int(widths[rows].max()), late_day_weight)
        tables |= {int(s): MissTable(int(first[s]), costs[i, :, : widths[s]]) for i, s in enumerate(rows)}
    return tuple(tables[s] for s in range(len(first)))


def _costs(first: Ints, rows: Ints, demand: Demand, width: int, late_day_weight: float) -> Floats:
    """(rows, T, width): m + late_day_weight x units late before the day."""
    supply = first[:, None] + np.arange(width)[None, :]
    late = demand.late[rows]
    short = np.empty((len(rows), demand.mean.shape[1] + 1, width))
    short[:, 0] = np.maximum(late[:, None] - supply, 0)
    for t in range(demand.mean.shape[1]):
        x = supply - (late + demand.due[rows, t])[:, None]
        short[:, t + 1] = shortage_by_count(x, mean=demand.mean[rows, t], variance=demand.variance[rows, t])
    now, before = short[:, 1:], short[:, :-1]
    return np.asarray((now - before) + late_day_weight * before)


def shortage_by_count(x: Ints, *, mean: Floats, variance: Floats) -> Floats:
    """Return E[(D - x)+] for rows of consecutive integers x (rows, width), by summing probabilities.

    Equal to `expected_shortage`, several times faster for whole rows: one log-gamma for each entry.
    """
    top = int(max(x[:, -1].max(), 0))
    k = np.arange(top + 1, dtype=np.float64)[None, :]
    pmf = np.exp(_log_pmf(k, mean=mean[:, None], variance=variance[:, None]))
    beyond = 1.0 - np.cumsum(pmf, axis=1)
    table = np.empty((len(mean), top + 1))
    table[:, 0] = mean
    table[:, 1:] = mean[:, None] - np.cumsum(beyond, axis=1)[:, :-1]
    found = np.take_along_axis(np.maximum(table, 0.0), np.clip(x, 0, top), axis=1)
    return np.where(x < 0, mean[:, None] - x, found)


def _limits(mean: Floats, variance: Floats) -> tuple[NDArray[np.bool_], Floats, Floats]:
    """Say where the Poisson limit is taken, and the size r and failure probability of the others.

    The limit is taken without excess variance, and where demand is so small that r would underflow.
    """
    is_poisson = np.asarray((variance <= mean * (1 + 1e-9)) | (mean < LEAST_MEAN))
    excess = np.where(is_poisson, 1.0, variance - mean)
    r = np.where(is_poisson, 1.0, mean**2 / excess)
    return is_poisson, r, np.where(is_poisson, 0.5, excess / np.where(is_poisson, 1.0, variance))


def _log_pmf(k: Floats, *, mean: Floats, variance: Floats) -> Floats:
    is_poisson, r, failure = _limits(mean, variance)
    poisson = k * np.log(np.where(mean > 0, mean, 1e-300)) - mean - gammaln(k + 1)
    chosen = gammaln(k + r) - gammaln(r) - gammaln(k + 1)
    binomial = chosen + r * np.log1p(-failure) + k * np.log(failure)
    return np.asarray(np.where(is_poisson, poisson, binomial))


def cumulated(arrivals: Sequence[tuple[int, int]], *, first: int, days: int) -> Ints:
    """Return S(t), (T,): `first` on the shelf, and (day index, spools) as they arrive; beyond the last day: none."""
    supply = np.full(days, first, dtype=np.int64)
    for day, spools in arrivals:
        supply[day:] += spools
    return supply
