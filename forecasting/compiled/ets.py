"""The recursion of exponential smoothing in state space form, SKU by SKU and constant by constant."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# One-step errors count from the period after this many known ones, and a trend is learned from there on.
WARM_UP = 5


@njit(cache=True)
def filter_states(
    units: FloatArray, factors: FloatArray, alpha: FloatArray, beta: FloatArray, phi: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return level, trend and mean of e^2 / f, each of shape (g, n); see ``forecasting.methods.ets``."""
    n, periods = units.shape
    level, trend, spread = np.zeros((alpha.size, n)), np.zeros((alpha.size, n)), np.full((alpha.size, n), np.nan)
    for s in range(n):
        for g in range(alpha.size):
            base, slope, seen, known, squares = 0.0, 0.0, 0.0, 0, 0.0
            for t in range(periods):
                base += phi[g] * slope
                slope *= phi[g]
                if np.isnan(units[s, t]):
                    continue
                factor = factors[s, t]
                error = units[s, t] - factor * base
                if known >= WARM_UP:
                    squares += error * error / factor
                known += 1
                seen += factor
                step = error / max(factor, 1.0)
                # Until the constant takes over, the level is the mean so far.
                base += error / seen if abs(error) / seen > alpha[g] * abs(step) else alpha[g] * step
                if known > WARM_UP:
                    slope += beta[g] * step
            level[g, s], trend[g, s] = base, slope
            if known > WARM_UP:
                spread[g, s] = squares / (known - WARM_UP)
    return level, trend, spread
