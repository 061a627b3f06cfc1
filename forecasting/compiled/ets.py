"""The recursion of exponential smoothing in state space form, SKU by SKU, for all constants at once."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Constants = tuple[float, ...]

# One-step errors count from the period after this many known ones, and a trend is learned from there on.
WARM_UP = 5


@njit(cache=True)
def filter_states(
    units: FloatArray, factors: FloatArray, alpha: Constants, beta: Constants, phi: Constants
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return level, trend and mean of e^2 / f, each of shape (g, n); see ``forecasting.methods.ets``."""
    n, periods, g = units.shape[0], units.shape[1], len(alpha)
    level, trend, spread = np.empty((g, n)), np.empty((g, n)), np.full((g, n), np.nan)
    base, slope, squares = np.empty(g), np.empty(g), np.empty(g)
    for s in range(n):
        base[:], slope[:], squares[:] = 0.0, 0.0, 0.0
        seen, known = 0.0, 0
        for t in range(periods):
            for j in range(g):
                base[j] += phi[j] * slope[j]
                slope[j] *= phi[j]
            y, factor = units[s, t], factors[s, t]
            if np.isnan(y):
                continue
            known += 1
            seen += factor
            is_warm = 1.0 if known > WARM_UP else 0.0
            of_mean, of_step, of_square = 1.0 / seen, 1.0 / max(factor, 1.0), is_warm / factor
            for j in range(g):
                error = y - factor * base[j]
                squares[j] += of_square * error * error
                # Until the constant takes over, the level is the mean so far.
                base[j] += max(of_mean, alpha[j] * of_step) * error
                slope[j] += is_warm * beta[j] * of_step * error
        for j in range(g):
            level[j, s], trend[j, s] = base[j], slope[j]
            if known > WARM_UP:
                spread[j, s] = squares[j] / (known - WARM_UP)
    return level, trend, spread
