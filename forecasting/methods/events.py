"""The non-zero events of a demand matrix as flat arrays."""

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
    units : ndarray of float, shape (k,)
        Size of the event.
    """

    n_known: IntArray
    count: IntArray
    sku: IntArray
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


def events_of(units: FloatArray) -> DemandEvents:
    """Collect the events of a matrix (n SKUs x T periods; NaN where unknown)."""
    is_event = units > 0  # an unknown period is not
    count = np.count_nonzero(is_event, axis=1)
    n_known = units.shape[1] - np.count_nonzero(np.isnan(units), axis=1)
    return DemandEvents(n_known, count, np.repeat(np.arange(units.shape[0]), count), units[is_event])


def weighted_sum(events: DemandEvents, values: FloatArray) -> FloatArray:
    """Sum values over the events of each SKU; 0 for a SKU without events."""
    total = np.zeros(events.n_skus)
    if events.first.size:
        total[events.with_events] = np.add.reduceat(values, events.first)
    return total
