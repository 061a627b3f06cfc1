"""The recursions of smoothed levels over the demands of each SKU, for all constants at once.

``units`` has shape (n, k), k further periods; ``since`` (n,) counts the known periods since the last demand, or since
the start of the record. The states of shape (n, c) are changed in place and stand as they were right after the last
demand. ``zeros`` holds the decay of a level over m zeros and the sum of its squares, each of shape (m, c).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Constants = tuple[float, ...]


@njit(cache=True)
def rows_to_walk(units: FloatArray, since: IntArray) -> IntArray:
    """Return all rows of a record, of a single night only those that sold; most do not, and their night is counted."""
    n = units.shape[0]
    if units.shape[1] != 1:
        return np.arange(n)
    rows, found = np.empty(n, np.int64), 0
    for s in range(n):
        if units[s, 0] > 0.0:
            rows[found] = s
            found += 1
        else:
            since[s] += units[s, 0] == units[s, 0]
    return rows[:found]


@njit(cache=True)
def find_demands(row: FloatArray, place: IntArray, position: IntArray) -> tuple[int, int]:
    """Write the demands of one record: index, and position counted from 1 over known periods; count both.

    Every period is written and kept only if it was a demand, which is faster than to branch.
    """
    n_known, found = 0, 0
    for t in range(row.size):
        n_known += row[t] == row[t]
        place[found] = t
        found += row[t] > 0.0
    for k in range(found):
        position[k] = place[k] + 1
    if n_known < row.size:
        known, k = 0, 0
        for t in range(row.size):
            known += row[t] == row[t]
            position[k] = known
            k += row[t] > 0.0
    return n_known, found


@njit(cache=True)
def advance_sba(units: FloatArray, constants: Constants, since: IntArray, states: tuple[FloatArray, ...]) -> None:
    """Smooth sizes and intervals over the demands; both are kept divided by their constant."""
    sizes, intervals, rates, errors = states
    c = len(constants)
    place, position = np.empty(units.shape[1] + 1, np.int64), np.empty(units.shape[1] + 1, np.int64)
    z, p, f, squares = np.empty(c), np.empty(c), np.empty(c), np.empty(c)
    for s in rows_to_walk(units, since):
        n_known, found = find_demands(units[s], place, position)
        previous = -since[s]
        since[s] += n_known
        if found == 0:
            continue
        for j in range(c):
            z[j], p[j], f[j], squares[j] = sizes[s, j], intervals[s, j], rates[s, j], errors[s, j]
        for k in range(found):
            y, gap = units[s, place[k]], float(position[k] - previous)
            previous = position[k]
            if p[0] == 0.0:  # the first demand starts size and interval
                for j in range(c):
                    z[j], p[j] = y / constants[j], gap / constants[j]
                    f[j] = (1.0 - constants[j] / 2.0) * z[j] / p[j]
            else:
                for j in range(c):
                    squares[j] += (gap - 1.0) * f[j] * f[j] + (y - f[j]) * (y - f[j])
                    z[j] = (1.0 - constants[j]) * z[j] + y
                    p[j] = (1.0 - constants[j]) * p[j] + gap
                    f[j] = (1.0 - constants[j] / 2.0) * z[j] / p[j]
        since[s] = n_known - previous
        for j in range(c):
            sizes[s, j], intervals[s, j], rates[s, j], errors[s, j] = z[j], p[j], f[j], squares[j]


@njit(cache=True)
def advance_tsb(
    units: FloatArray,
    constants: tuple[Constants, Constants],
    zeros: tuple[FloatArray, FloatArray],
    since: IntArray,
    states: tuple[FloatArray, ...],
) -> None:
    """Smooth sizes over the demands and the probability of a demand over all periods."""
    (size_constants, probability_constants), (decay, decay_squares) = constants, zeros
    sizes, probabilities, rates, errors = states
    place, position = np.empty(units.shape[1] + 1, np.int64), np.empty(units.shape[1] + 1, np.int64)
    for s in rows_to_walk(units, since):
        n_known, found = find_demands(units[s], place, position)
        previous = -since[s]
        since[s] += n_known
        for k in range(found):
            y, m = units[s, place[k]], position[k] - previous - 1
            previous = position[k]
            since[s] = n_known - previous
            is_first = sizes[s, 0] == 0.0
            for j in range(len(size_constants)):
                a, b, f = size_constants[j], probability_constants[j], rates[s, j] * decay[m, j]
                p = probabilities[s, j] * decay[m, j]
                if is_first:  # the probability starts at the first period's 0 or 1, the size at the first demand
                    sizes[s, j], probabilities[s, j] = y, 1.0 if m == 0 else b
                else:
                    errors[s, j] += rates[s, j] * rates[s, j] * decay_squares[m, j] + (y - f) * (y - f)
                    sizes[s, j] += a * (y - sizes[s, j])
                    probabilities[s, j] = p + b * (1.0 - p)
                rates[s, j] = sizes[s, j] * probabilities[s, j]


@njit(cache=True)
def advance_ses(
    units: FloatArray,
    constants: Constants,
    zeros: tuple[FloatArray, FloatArray],
    since: IntArray,
    states: tuple[FloatArray, ...],
) -> None:
    """Smooth the demand of all periods."""
    (decay, decay_squares), (rates, errors) = zeros, states
    place, position = np.empty(units.shape[1] + 1, np.int64), np.empty(units.shape[1] + 1, np.int64)
    for s in rows_to_walk(units, since):
        n_known, found = find_demands(units[s], place, position)
        previous = -since[s]
        since[s] += n_known
        for k in range(found):
            y, m = units[s, place[k]], position[k] - previous - 1
            previous = position[k]
            since[s] = n_known - previous
            is_first = rates[s, 0] == 0.0
            for j in range(len(constants)):
                f = rates[s, j] * decay[m, j]
                if is_first:  # the level starts at the first period's demand
                    rates[s, j] = y if m == 0 else constants[j] * y
                else:
                    errors[s, j] += rates[s, j] * rates[s, j] * decay_squares[m, j] + (y - f) * (y - f)
                    rates[s, j] = f + constants[j] * (y - f)


@njit(cache=True)
def best_rates(
    zeros: tuple[FloatArray, FloatArray], since: IntArray, rates: FloatArray, errors: FloatArray
) -> FloatArray:
    """Return each SKU's level of today under the constant with the least squared error, today's zeros counted in."""
    decay, decay_squares = zeros
    best = np.zeros(since.size)
    for s in range(since.size):
        least = np.inf
        for j in range(rates.shape[1]):
            squares = errors[s, j] + rates[s, j] * rates[s, j] * decay_squares[since[s], j]
            if squares < least:
                least, best[s] = squares, rates[s, j] * decay[since[s], j]
    return best
