"""Distributions of counts, summed up from zero: p(n) follows from p(n - 1) by a few multiplications.

For small counts that takes nanoseconds where the incomplete beta function takes a microsecond, and one climb gives
all quantiles of a distribution.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# A climb that has not arrived after so many counts is given up.
MOST_COUNTS = 4096.0


@njit(cache=True)
def least_counts(first: FloatArray, slope: FloatArray, start: FloatArray, probability: FloatArray) -> FloatArray:
    """Return the least n with P(D <= n) >= probability, NaN where the climb was given up.

    Parameters
    ----------
    first : ndarray, shape (d,)
        P(D = 0); a distribution with 0 (below the smallest float) is given up.
    slope, start : ndarray, shape (d,)
        p(n) = p(n - 1) (slope + start / n): q and (r - 1) q for the negative binomial, 0 and m for Poisson.
    probability : ndarray, shape (k, d)
        In [0, 1); a climb serves all k of a distribution if they ascend.
    """
    counts = np.full(probability.shape, np.nan)
    for d in range(first.size):
        n, mass, below, total = 0.0, first[d], 0.0, first[d]
        for k in range(probability.shape[0]):
            if first[d] == 0.0:
                break
            if probability[k, d] <= below:  # passed already
                n, mass, below, total = 0.0, first[d], 0.0, first[d]
            while total < probability[k, d] and n < MOST_COUNTS:
                n += 1.0
                mass *= slope[d] + start[d] / n
                below = total
                total += mass
            if total >= probability[k, d]:
                counts[k, d] = n
    return counts


@njit(cache=True)
def cumulated(first: FloatArray, slope: FloatArray, start: FloatArray, count: FloatArray) -> FloatArray:
    """Return P(D <= count) for whole counts, shape (k, d); 0 below zero, NaN where the climb was given up."""
    at_most = np.full(count.shape, np.nan)
    for k in range(count.shape[0]):
        for d in range(first.size):
            if count[k, d] < 0.0:
                at_most[k, d] = 0.0
            elif first[d] > 0.0 and count[k, d] <= MOST_COUNTS:
                mass, total = first[d], first[d]
                for i in range(int(count[k, d])):
                    mass *= slope[d] + start[d] / (i + 1.0)
                    total += mass
                at_most[k, d] = min(total, 1.0)
    return at_most
