"""The non-zero events of a demand matrix as flat arrays, and exponential weights over them.

Between two demands the size and interval levels of Croston's family stand still and the probability of
Teunter, Syntetos and Babai decays geometrically. So a level after T periods is a weighted sum over the demand
events alone, and nothing needs to loop over periods.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    sku : ndarray of int, shape (k,)
        Row of the SKU of each event.
    position : ndarray of int, shape (k,)
        Period of the event, counted from 1 over the known periods of its SKU.
    units : ndarray of float, shape (k,)
        Size of the event.
    rank_from_start, rank_from_end : ndarray of int, shape (k,)
        Number of events of the same SKU before and after this one.
    """

    n_known: IntArray
    sku: IntArray
    position: IntArray
    units: FloatArray
    rank_from_start: IntArray
    rank_from_end: IntArray

    @property
    def n_skus(self) -> int:
        return int(self.n_known.size)


def events_of(units: FloatArray) -> DemandEvents:
    """Collect the events of a matrix (n SKUs x T periods; NaN where unknown)."""
    n, periods = units.shape
    flat = units.reshape(-1)
    unknown = np.isnan(flat)
    where = np.flatnonzero(flat)  # NaN counts as non-zero here and is dropped next
    if unknown.any():
        where = where[~unknown[where]]
        known_so_far = np.cumsum(~unknown.reshape(n, periods), axis=1)
        position = known_so_far.reshape(-1)[where]
        n_known = known_so_far[:, -1].astype(np.int64)
        sku = where // periods
    else:
        sku = where // periods
        position = where - sku * periods + 1
        n_known = np.full(n, periods, dtype=np.int64)
    count = np.bincount(sku, minlength=n)
    first = np.cumsum(count) - count
    rank = np.arange(where.size) - first[sku]
    return DemandEvents(n_known, sku, position, flat[where], rank, count[sku] - 1 - rank)


def weighted_sum(events: DemandEvents, values: FloatArray) -> FloatArray:
    """Sum values over the events of each SKU; 0 for a SKU without events."""
    return np.bincount(events.sku, weights=values, minlength=events.n_skus).astype(float)


def smoothing_weights(constant: float, length: int) -> FloatArray:
    """Return a (1 - a)^j for j = 0 .. length - 1: the weight of the value j steps back."""
    return np.asarray(constant * np.power(1.0 - constant, np.arange(length, dtype=float)))


def smoothed_over_events(events: DemandEvents, values: FloatArray, *, constant: float) -> FloatArray:
    """Return the last exponentially smoothed value over the events, started at the first one; 0 without events."""
    weights = smoothing_weights(constant, int(events.rank_from_end.max(initial=0)) + 1)[events.rank_from_end]
    # The first value starts the level, so it carries (1 - a)^j instead of a (1 - a)^j.
    weights = np.where(events.rank_from_start == 0, weights / constant, weights)
    return weighted_sum(events, weights * values)
