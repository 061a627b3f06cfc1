"""The recursions of smoothed levels over the demands of each SKU, for all constants side by side.

``units`` has shape (n, k), k further periods; ``since`` (n,) counts the known periods since the last demand, or since
the start of the record. The states of shape (n, c) are changed in place and stand as they were right after the last
demand. ``zeros`` holds the decay of a level over m zeros and the sum of its squares, each of shape (m, c).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from forecasting.compiled.lanes import lanes, read_lanes, write_lanes

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
def find_demands(units: FloatArray, s: int, place: IntArray, position: IntArray) -> tuple[int, int]:
    """Write the demands of one record: index, and position counted from 1 over known periods; count both.

    Every period is written and kept only if it was a demand, which is faster than to branch.
    """
    n_known, found = 0, 0
    for t in range(units.shape[1]):
        n_known += units[s, t] == units[s, t]
        place[found], position[found] = t, n_known
        found += units[s, t] > 0.0
    return n_known, found


@njit(cache=True)
def advance_sba(units: FloatArray, constants: Constants, since: IntArray, states: tuple[FloatArray, ...]) -> None:
    """Smooth sizes and intervals over the demands; both are kept divided by their constant."""
    sizes, intervals, rates, errors = states
    a = lanes(constants)
    keep, correction = 1.0 - a, 1.0 - a / 2.0
    place, position = np.empty(units.shape[1] + 1, np.int64), np.empty(units.shape[1] + 1, np.int64)
    for s in rows_to_walk(units, since):
        n_known, found = find_demands(units, s, place, position)
        z, p = read_lanes(sizes, s, a), read_lanes(intervals, s, a)
        f, squares = read_lanes(rates, s, a), read_lanes(errors, s, a)
        previous, is_first = -since[s], intervals[s, 0] == 0.0
        for k in range(found):
            y, gap = units[s, place[k]], float(position[k] - previous)
            previous = position[k]
            if is_first:  # the first demand starts size and interval
                z, p, is_first = y / a, gap / a, False
            else:
                squares += (gap - 1.0) * f * f + (y - f) * (y - f)
                z, p = keep * z + y, keep * p + gap
            f = correction * z / p
        since[s] = n_known - previous
        write_lanes(z, sizes, s)
        write_lanes(p, intervals, s)
        write_lanes(f, rates, s)
        write_lanes(squares, errors, s)


@njit(cache=True)
def advance_tsb(
    units: FloatArray,
    constants: tuple[Constants, Constants],
    zeros: tuple[FloatArray, FloatArray],
    since: IntArray,
    states: tuple[FloatArray, ...],
) -> None:
    """Smooth sizes over the demands and the probability of a demand over all periods."""
    (decay, decay_squares), (sizes, probabilities, rates, errors) = zeros, states
    a, b = lanes(constants[0]), lanes(constants[1])
    one = a / a
    place, position = np.empty(units.shape[1] + 1, np.int64), np.empty(units.shape[1] + 1, np.int64)
    for s in rows_to_walk(units, since):
        n_known, found = find_demands(units, s, place, position)
        z, p = read_lanes(sizes, s, a), read_lanes(probabilities, s, a)
        rate, squares = read_lanes(rates, s, a), read_lanes(errors, s, a)
        previous, is_first = -since[s], sizes[s, 0] == 0.0
        for k in range(found):
            y, m = units[s, place[k]], position[k] - previous - 1
            previous = position[k]
            if is_first:  # the probability starts at the first period's 0 or 1, the size at the first demand
                z, p, is_first = y * one, one if m == 0 else b, False
            else:
                faded = read_lanes(decay, m, a)
                f, p = rate * faded, p * faded
                squares += rate * rate * read_lanes(decay_squares, m, a) + (y - f) * (y - f)
                z += a * (y - z)
                p += b * (1.0 - p)
            rate = z * p
        since[s] = n_known - previous
        write_lanes(z, sizes, s)
        write_lanes(p, probabilities, s)
        write_lanes(rate, rates, s)
        write_lanes(squares, errors, s)


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
    a = lanes(constants)
    one = a / a
    place, position = np.empty(units.shape[1] + 1, np.int64), np.empty(units.shape[1] + 1, np.int64)
    for s in rows_to_walk(units, since):
        n_known, found = find_demands(units, s, place, position)
        rate, squares = read_lanes(rates, s, a), read_lanes(errors, s, a)
        previous, is_first = -since[s], rates[s, 0] == 0.0
        for k in range(found):
            y, m = units[s, place[k]], position[k] - previous - 1
            previous = position[k]
            if is_first:  # the level starts at the first period's demand
                rate, is_first = y * one if m == 0 else a * y, False
            else:
                f = rate * read_lanes(decay, m, a)
                squares += rate * rate * read_lanes(decay_squares, m, a) + (y - f) * (y - f)
                rate = f + a * (y - f)
        since[s] = n_known - previous
        write_lanes(rate, rates, s)
        write_lanes(squares, errors, s)


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
