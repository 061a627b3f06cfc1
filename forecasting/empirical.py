"""Empirical distributions of cumulated demand: recent windows of the record as they were."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.past import RECENT_PERIODS, Past

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class EmpiricalDemand:
    """Equally likely outcomes along the last axis.

    Parameters
    ----------
    outcomes : ndarray, shape (..., w)
        NaN fills the places of a distribution with fewer outcomes; each needs at least one.
    """

    outcomes: FloatArray

    @property
    def count(self) -> NDArray[np.int64]:
        return np.asarray((~np.isnan(self.outcomes)).sum(axis=-1), dtype=np.int64)

    def cdf(self, x: ArrayLike) -> FloatArray:
        """Return P(D <= x), x broadcast against the distributions."""
        return np.asarray((self.outcomes <= np.asarray(x, dtype=float)[..., None]).sum(axis=-1) / self.count)

    def ppf(self, q: ArrayLike) -> FloatArray:
        """Return the least outcome x with P(D <= x) >= q."""
        ordered = np.sort(self.outcomes, axis=-1)
        # 1e-9: q times the count may come out a hair above a whole number.
        place = np.ceil(np.asarray(q, dtype=float) * self.count - 1e-9).astype(np.int64) - 1
        place = np.clip(place, 0, self.count - 1)
        ordered = np.broadcast_to(ordered, (*place.shape, ordered.shape[-1]))
        return np.asarray(np.take_along_axis(ordered, place[..., None], axis=-1)[..., 0])


def recent_sums(past: Past, horizon: IntArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return each SKU's recent sums over its own horizon, shape (n, starts), and whether there are enough of them.

    Every start has the longest horizon behind it. A record of less than two longest horizons is not enough; its
    sums are zero.
    """
    from forecasting.compiled.recent import window_sums  # noqa: PLC0415 - numba is loaded when first needed

    recent = past.units[:, max(0, past.origin - RECENT_PERIODS) :]
    sums = window_sums(recent, horizon, max(recent.shape[1] - past.setting.longest + 1, 1))
    n_known = recent.shape[1] - np.count_nonzero(np.isnan(recent), axis=1)
    applies = (n_known >= 2 * past.setting.longest) & ~np.isnan(sums).all(axis=1)
    sums[~applies] = 0.0
    return sums, applies
