"""Sums over the record of each SKU in one pass: with old periods counting less, and over moving windows."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from forecasting.compiled.lanes import lanes, write_lanes

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@njit(cache=True)
def discounted_sums(units: FloatArray, factors: FloatArray, keep: tuple[float, ...]) -> tuple[FloatArray, FloatArray]:
    """Return demands and factors of known periods, each (n, g); every period leaves ``keep`` of the sum before it."""
    n, g = units.shape[0], len(keep)
    demands, exposure = np.empty((n, g)), np.empty((n, g))
    kept = lanes(keep)
    for s in range(n):
        count, seen = 0.0 * kept, 0.0 * kept
        for t in range(units.shape[1]):
            count = kept * count + (1.0 if units[s, t] > 0.0 else 0.0)
            seen = kept * seen + (factors[s, t] if units[s, t] == units[s, t] else 0.0)
        write_lanes(count, demands, s)
        write_lanes(seen, exposure, s)
    return demands, exposure


@njit(cache=True)
def factored_moments(units: FloatArray, factors: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return mean and variance of a period of factor 1 and the number of demands, each (n,).

    Var(y_t) = f_t s2, so the squared deviations from f_t m sum to s2 times the periods, less one for m itself.
    """
    n = units.shape[0]
    mean, variance, demands = np.zeros(n), np.zeros(n), np.zeros(n)
    for s in range(n):
        total, periods, squares = 0.0, 0.0, 0.0
        for t in range(units.shape[1]):
            if units[s, t] == units[s, t]:
                total += units[s, t]
                periods += factors[s, t]
                demands[s] += units[s, t] != 0.0
        mean[s] = total / max(periods, 1e-9)
        for t in range(units.shape[1]):
            if units[s, t] == units[s, t]:
                squares += (units[s, t] - factors[s, t] * mean[s]) ** 2
        variance[s] = squares / max(periods - 1.0, 1.0)
    return mean, variance, demands


@njit(cache=True)
def event_moments(units: FloatArray) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Return the numbers of known periods and of demands, and mean and variance of the demands, each (n,)."""
    n = units.shape[0]
    known, count = np.zeros(n, np.int64), np.zeros(n, np.int64)
    mean, variance = np.zeros(n), np.zeros(n)
    for s in range(n):
        total, squares = 0.0, 0.0
        for t in range(units.shape[1]):
            known[s] += units[s, t] == units[s, t]
            count[s] += units[s, t] > 0.0
            total += units[s, t] if units[s, t] > 0.0 else 0.0
        mean[s] = total / max(count[s], 1)
        for t in range(units.shape[1]):
            deviation = units[s, t] - mean[s] if units[s, t] > 0.0 else 0.0
            squares += deviation * deviation
        variance[s] = squares / max(count[s], 1)
    return known, count, mean, variance


@njit(cache=True)
def window_sums(units: FloatArray, length: IntArray, starts: int) -> FloatArray:
    """Return the sums over each SKU's own number of periods from the first starts on; NaN where one is unknown."""
    n, periods = units.shape
    sums = np.empty((n, starts))
    for s in range(n):
        total, unknown, last = 0.0, 0, 0
        for first in range(starts):
            while last < min(first + length[s], periods):
                if units[s, last] == units[s, last]:
                    total += units[s, last]
                else:
                    unknown += 1
                last += 1
            sums[s, first] = total if unknown == 0 and last - first == length[s] else np.nan
            if units[s, first] == units[s, first]:
                total -= units[s, first]
            else:
                unknown -= 1
    return sums
