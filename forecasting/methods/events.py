"""The non-zero events of a demand matrix as flat arrays, and exponential weights over them.

Between two demands the size and interval levels of Croston's family stand still and the probability of
Teunter, Syntetos and Babai decays geometrically. So a level after T periods is a weighted sum over the demand
events alone, and nothing needs to loop over periods.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class DemandEvents:
    """Demand events ordered by SKU, then by time.

    Attributes
    ----------
    n_known : ndarray of int, shape (n,)
        Number of known periods of each SKU.
    count : ndarray of int, shape (n,)
        Number of events of each SKU.
    sku : ndarray of int, shape (k,)
        Row of the SKU of each event.
    position : ndarray of int, shape (k,)
        Period of the event, counted from 1 over the known periods of its SKU.
    units : ndarray of float, shape (k,)
        Size of the event.
    """

    n_known: IntArray
    count: IntArray
    sku: IntArray
    position: IntArray
    units: FloatArray

    @property
    def n_skus(self) -> int:
        return int(self.n_known.size)

    @cached_property
    def with_events(self) -> IntArray:
        """Rows of the SKUs that have events."""
        return np.flatnonzero(self.count)

    @cached_property
    def first(self) -> IntArray:
        """Place of the first event of each SKU in ``with_events``."""
        return (np.cumsum(self.count) - self.count)[self.with_events]

    @cached_property
    def rank_from_end(self) -> IntArray:
        """Number of later events of the same SKU."""
        return np.asarray(np.repeat(np.cumsum(self.count) - 1, self.count) - np.arange(self.sku.size))

    @cached_property
    def lag(self) -> IntArray:
        """Known periods between the event and the end of its SKU's record."""
        return np.asarray(np.repeat(self.n_known, self.count) - self.position)


def events_of(units: FloatArray) -> DemandEvents:
    """Collect the events of a matrix (n SKUs x T periods; NaN where unknown)."""
    n, periods = units.shape
    flat = units.reshape(-1)
    is_event = flat != 0
    where = np.flatnonzero(is_event)
    sizes = flat[where]
    if np.isnan(sizes).any():  # NaN is not equal to zero, so every unknown period is among them
        return _events_between_gaps(units)
    count = np.count_nonzero(is_event.reshape(n, periods), axis=1)
    rows = np.arange(n)
    position = where - np.repeat(rows * periods - 1, count)
    return DemandEvents(np.full(n, periods), count, np.repeat(rows, count), position, sizes)


def _events_between_gaps(units: FloatArray) -> DemandEvents:
    is_known = ~np.isnan(units)
    is_event = is_known & (units != 0)
    known_so_far = np.cumsum(is_known, axis=1)
    count = np.count_nonzero(is_event, axis=1)
    sku = np.repeat(np.arange(units.shape[0]), count)
    return DemandEvents(known_so_far[:, -1], count, sku, known_so_far[is_event], units[is_event])


def weighted_sum(events: DemandEvents, values: FloatArray) -> FloatArray:
    """Sum values over the events of each SKU; 0 for a SKU without events."""
    total = np.zeros(events.n_skus)
    if events.first.size:
        total[events.with_events] = np.add.reduceat(values, events.first)
    return total


def smoothing_weights(constant: float, length: int) -> FloatArray:
    """Return a (1 - a)^j for j = 0 .. length - 1: the weight of the value j steps back."""
    return np.asarray(constant * np.power(1.0 - constant, np.arange(length, dtype=float)))


def smoothed_over_events(events: DemandEvents, *values: FloatArray, constant: float) -> list[FloatArray]:
    """Return the last exponentially smoothed values over the events, started at the first; 0 without events."""
    weights = smoothing_weights(constant, int(events.count.max(initial=0)))[events.rank_from_end]
    # The first value starts the level: it carries (1 - a)^j, which is a (1 - a)^j and (1 - a)^(j + 1) more.
    left = np.power(1.0 - constant, events.count[events.with_events])
    levels = [weighted_sum(events, weights * value) for value in values]
    for level, value in zip(levels, values, strict=True):
        level[events.with_events] += left * value[events.first]
    return levels


def smoothed_over_periods(events: DemandEvents, values: FloatArray, *, constant: float) -> FloatArray:
    """Return the last exponentially smoothed value over all known periods, zero where there is no event."""
    level = weighted_sum(events, smoothing_weights(constant, int(events.n_known.max(initial=0)))[events.lag] * values)
    starts_record = events.position[events.first] == 1
    left = np.power(1.0 - constant, events.n_known[events.with_events])
    level[events.with_events] += np.where(starts_record, left * values[events.first], 0.0)
    return level
