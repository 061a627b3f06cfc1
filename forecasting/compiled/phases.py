"""Demand by phase of the season against the level around it, SKU by SKU in one pass over the periods."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


# numpy's division asks nothing before it divides, so that it runs over many windows at once.
@njit(cache=True, error_model="numpy")
def write_level(row: FloatArray, width: int, sold: FloatArray, known: IntArray, level: FloatArray) -> None:
    """Write the mean of the known periods of a window around each period; at the ends of the first or last window.

    ``sold`` and ``known`` (T + 1) are filled with the sums of demand and of known periods before each period.
    """
    demand, count = 0.0, 0
    sold[0], known[0] = 0.0, 0
    for t in range(row.size):
        demand += row[t] if row[t] == row[t] else 0.0
        count += row[t] == row[t]
        sold[t + 1], known[t + 1] = demand, count
    before, last = width // 2, row.size - width
    for first in range(last + 1):
        level[first + before] = (sold[first + width] - sold[first]) / max(known[first + width] - known[first], 1)
    level[:before] = level[before]
    level[last + before :] = level[last + before]


@njit(cache=True)
def phase_sums(
    units: FloatArray, phase: IntArray, weight: FloatArray, n_phases: int, width: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what each SKU sold in each phase and what its level let expect there; a period of weight 0 is left out.

    Parameters
    ----------
    units : ndarray, shape (n, T)
        NaN where unknown, which counts nothing.
    phase, weight : ndarray, shape (T,)
    width : int
        Periods of the level.

    Returns
    -------
    weighted : ndarray, shape (4, n, phases)
        Weighted sums of units, of level and of 1, and that of the weights' squares.
    squares : ndarray, shape (4, n, phases)
        Sums of units^2, units x level, level^2 and 1, not weighted.
    mean : ndarray, shape (n,)
        Mean level of all known periods.
    """
    n, periods = units.shape
    weighted, squares, mean = np.zeros((4, n, n_phases)), np.zeros((4, n, n_phases)), np.zeros(n)
    total, known, level = np.empty(periods + 1), np.empty(periods + 1, np.int64), np.empty(periods)
    # Phase by phase the sums stand in registers.
    places = [np.flatnonzero((phase == p) & (weight > 0.0)) for p in range(n_phases)]
    for s in range(n):
        write_level(units[s], width, total, known, level)
        for p in range(n_phases):
            sold = expected = seen = seen_squares = of_units = of_both = of_level = counted = 0.0
            for at in places[p]:
                if units[s, at] == units[s, at]:
                    y, w = units[s, at], weight[at]
                    sold, expected = sold + w * y, expected + w * level[at]
                    seen, seen_squares = seen + w, seen_squares + w * w
                    of_units, of_both = of_units + y * y, of_both + y * level[at]
                    of_level, counted = of_level + level[at] * level[at], counted + 1.0
            weighted[0, s, p], weighted[1, s, p] = sold, expected
            weighted[2, s, p], weighted[3, s, p] = seen, seen_squares
            squares[0, s, p], squares[1, s, p] = of_units, of_both
            squares[2, s, p], squares[3, s, p] = of_level, counted
        for t in range(periods):
            mean[s] += level[t] if known[t + 1] > known[t] else 0.0
        mean[s] /= max(known[periods], 1)
    return weighted, squares, mean


@njit(cache=True)
def multiply_by_phase(factors: FloatArray, ratio: FloatArray, phase: IntArray, row: IntArray) -> None:
    """Multiply the factors of each SKU (n, T) by the ratio of its row in the phase of each period."""
    for s in range(factors.shape[0]):
        for t in range(factors.shape[1]):
            factors[s, t] *= ratio[row[s], phase[t]]


@njit(cache=True, error_model="numpy")
def group_totals(units: FloatArray, factors: FloatArray, group: IntArray, n_groups: int) -> FloatArray:
    """Return demand over its factor, summed over the SKUs of each group, shape (groups, T); the unknown as nothing."""
    total = np.zeros((n_groups, units.shape[1]))
    for s in range(units.shape[0]):
        of_group = total[group[s]]
        for t in range(units.shape[1]):
            of_group[t] += units[s, t] / factors[s, t] if units[s, t] == units[s, t] else 0.0
    return total
