"""The demands of each SKU, counted and measured; an unknown or empty period is none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class DemandEvents:
    """Numbers of known periods and of demands of n SKUs, mean and variance of the sizes (0 without demand)."""

    n_known: IntArray
    count: IntArray
    mean_size: FloatArray
    size_variance: FloatArray


def events_of(units: FloatArray) -> DemandEvents:
    """Measure the demands of a matrix (n SKUs x T periods; NaN where unknown)."""
    from forecasting.compiled.recent import event_moments  # noqa: PLC0415 - numba is loaded when first needed

    return DemandEvents(*event_moments(units))
