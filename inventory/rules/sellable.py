"""For which share of a window of orders a SKU had anything free, from the steps of its free stock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class StockSteps:
    """Changes of free stock, in any order: row of the SKU, seconds on any clock, spools (more or less)."""

    sku: Integers
    at_s: Floats
    spools: Floats


def sellable_share(steps: StockSteps, *, bounds_s: Floats, n_skus: int) -> Floats:
    """Return the share of each window in which free stock was above zero, shape (windows, n_skus).

    Nothing is known of a SKU before its first step, and of one without any: it counts as sellable.

    Parameters
    ----------
    steps : StockSteps
    bounds_s : ndarray, shape (windows + 1,)
        Ascending: window w reaches from the w-th to the next.
    n_skus : int

    Notes
    -----
    With b a bound and e the instants at which stock ran out, less those at which it came back, the time without stock
    up to b is the sum of (b - e)+: one sorted pass, no loop over windows or spells.
    """
    order = np.lexsort((steps.at_s, steps.sku))
    sku, at_s, spools = steps.sku[order], steps.at_s[order], steps.spools[order]
    is_first = np.diff(sku, prepend=-1) != 0
    total = np.cumsum(spools)
    before = np.repeat((total - spools)[is_first], np.diff(np.append(np.flatnonzero(is_first), sku.size)))
    is_out = total - before <= 0
    # A step of the same instant follows: what was between them lasted no time and cancels out.
    changes = np.where(is_first, is_out.astype(float), np.diff(is_out.astype(float), prepend=0.0))
    out_s = np.diff(_passed(sku, at_s, changes, bounds_s=bounds_s, n_skus=n_skus), axis=0)
    return np.clip(1.0 - out_s / np.diff(bounds_s)[:, None], 0.0, 1.0)


def _passed(sku: Integers, at_s: Floats, weight: Floats, *, bounds_s: Floats, n_skus: int) -> Floats:
    """Return the sum of weight x (bound - at)+ for each bound and SKU."""
    row = np.searchsorted(bounds_s, at_s)
    count, moment = np.zeros((2, bounds_s.size + 1, n_skus))
    np.add.at(count, (row, sku), weight)
    np.add.at(moment, (row, sku), weight * at_s)
    cumulated = np.cumsum(count, axis=0)[:-1] * bounds_s[:, None] - np.cumsum(moment, axis=0)[:-1]
    return np.asarray(cumulated)
