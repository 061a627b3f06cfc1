"""Demand by phase of the season against the level around it, SKU by SKU in one pass over the periods."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@njit(cache=True)
def write_level(row: FloatArray, width: int, level: FloatArray) -> None:
    """Write the mean of the known periods of a window around each period; at the ends of the first or last window."""
    first, total, count = 0, 0.0, 0
    for t in range(width):
        if row[t] == row[t]:
            total += row[t]
            count += 1
    for t in range(row.size):
        while first < min(max(t - width // 2, 0), row.size - width):
            if row[first] == row[first]:
                total -= row[first]
                count -= 1
            if row[first + width] == row[first + width]:
                total += row[first + width]
                count += 1
            first += 1
        level[t] = total / max(count, 1)


@njit(cache=True)
def phase_sums(
    units: FloatArray, phase: IntArray, weight: FloatArray, n_phases: int, width: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return by SKU and phase the weighted sums of units, of level and of 1, and that of the weights' squares.

    ``units`` (n, T), NaN where unknown, which counts nothing; ``weight`` (T,); ``width``: periods of the level.
    """
    n = units.shape[0]
    sold, expected = np.zeros((n, n_phases)), np.zeros((n, n_phases))
    seen, seen_squares = np.zeros((n, n_phases)), np.zeros((n, n_phases))
    level = np.empty(units.shape[1])
    for s in range(n):
        write_level(units[s], width, level)
        for t in range(units.shape[1]):
            if units[s, t] == units[s, t]:
                p, w = phase[t], weight[t]
                sold[s, p] += w * units[s, t]
                expected[s, p] += w * level[t]
                seen[s, p] += w
                seen_squares[s, p] += w * w
    return sold, expected, seen, seen_squares


@njit(cache=True)
def phase_noise(
    units: FloatArray, phase: IntArray, weight: FloatArray, ratio: FloatArray, width: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return by SKU the squared deviations from level x ratio of its phase, the periods counted, and the mean level.

    Periods of weight 0 count for the mean level alone; ``ratio`` (n, phases).
    """
    n = units.shape[0]
    squares, counted, mean = np.zeros(n), np.zeros(n), np.zeros(n)
    level = np.empty(units.shape[1])
    for s in range(n):
        write_level(units[s], width, level)
        known = 0
        for t in range(units.shape[1]):
            if units[s, t] == units[s, t]:
                known += 1
                mean[s] += level[t]
                if weight[t] > 0.0:
                    deviation = units[s, t] - level[t] * ratio[s, phase[t]]
                    squares[s] += deviation * deviation
                    counted[s] += 1.0
        mean[s] /= max(known, 1)
    return squares, counted, mean


@njit(cache=True)
def group_totals(units: FloatArray, factors: FloatArray, group: IntArray, n_groups: int) -> FloatArray:
    """Return demand over its factor, summed over the SKUs of each group, shape (groups, T); the unknown as nothing."""
    total = np.zeros((n_groups, units.shape[1]))
    for s in range(units.shape[0]):
        for t in range(units.shape[1]):
            if units[s, t] == units[s, t]:
                total[group[s], t] += units[s, t] / factors[s, t]
    return total
