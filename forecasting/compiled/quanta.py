"""Quantities as numbers of quanta, in one pass over arrays of any shape."""

from __future__ import annotations

import numpy as np
from numba import vectorize

from forecasting.quanta import MOST_ROUNDING, ROUNDING


@vectorize(["float64(float64, float64)"], cache=True)
def count_of(quantity: float, quantum: float) -> float:
    """Return how many quanta a quantity is: a whole number where it is one but for rounding, NaN where unknown."""
    count = quantity / quantum
    nearest = np.rint(count)
    return nearest if abs(count - nearest) <= min(ROUNDING * max(nearest, 1.0), MOST_ROUNDING) else count
