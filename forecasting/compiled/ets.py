"""The recursion of exponential smoothing in state space form, SKU by SKU, with all constants side by side."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from forecasting.compiled.lanes import at_least, lanes, write_lanes

FloatArray = NDArray[np.float64]
Constants = tuple[float, ...]

# One-step errors count from the period after this many known ones, and a trend is learned from there on.
WARM_UP = 5


@njit(cache=True)
def filter_states(
    units: FloatArray, factors: FloatArray, alpha: Constants, beta: Constants, phi: Constants
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return level, trend and mean of e^2 / f, each of shape (n, g); see ``forecasting.methods.ets``."""
    n, periods, g = units.shape[0], units.shape[1], len(alpha)
    levels, trends, spreads = np.empty((n, g)), np.empty((n, g)), np.full((n, g), np.nan)
    a, b, damping = lanes(alpha), lanes(beta), lanes(phi)
    nothing = 0.0 * a
    for s in range(n):
        level, trend, squares = nothing, nothing, nothing
        seen, known = 0.0, 0
        for t in range(periods):
            trend = damping * trend
            level += trend
            y, factor = units[s, t], factors[s, t]
            if np.isnan(y):
                continue
            known += 1
            seen += factor
            is_warm = 1.0 if known > WARM_UP else 0.0
            of_mean, of_step, of_square = 1.0 / seen, 1.0 / max(factor, 1.0), is_warm / factor
            error = y - factor * level
            squares += of_square * error * error
            # Until the constant takes over, the level is the mean so far.
            level += at_least(a * of_step, of_mean) * error
            trend += is_warm * b * of_step * error
        write_lanes(level, levels, s)
        write_lanes(trend, trends, s)
        if known > WARM_UP:
            write_lanes(squares / float(known - WARM_UP), spreads, s)
    return levels, trends, spreads
