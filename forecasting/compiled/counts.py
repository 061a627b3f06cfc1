"""Distributions of counts, summed up from zero: p(n) follows from p(n - 1) by a few multiplications.

For small counts that takes nanoseconds where the incomplete beta function takes a microsecond, and one climb gives
all quantiles of a distribution.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# A climb that has not arrived after so many counts is given up; for a single probability logarithms are quicker sooner.
MOST_COUNTS, MOST_COUNTS_TO_ONE = 4096.0, 32.0
# A sum's climb is scaled down when it has grown so far.
LARGE = 1e200
LOG_LARGE = float(np.log(LARGE))


@njit(cache=True)
def least_counts(
    weight: FloatArray, first: FloatArray, slope: FloatArray, start: FloatArray, probability: FloatArray
) -> FloatArray:
    """Return the least n with P(D <= n) >= probability, of mixtures of counts; NaN where the climb was given up.

    Parameters
    ----------
    weight : ndarray, shape (d, w)
        Shares of the parts; a single part has 1.
    first : ndarray, shape (d, w)
        P(D = 0); a part with 0 (below the smallest float) and a share is given up.
    slope, start : ndarray, shape (d, w)
        p(n) = p(n - 1) (slope + start / n): q and (r - 1) q for the negative binomial, 0 and m for Poisson.
    probability : ndarray, shape (d, k)
        In [0, 1); a climb serves all k of a distribution if they ascend.
    """
    counts = np.full(probability.shape, np.nan)
    part, mass = np.empty(weight.shape[1], np.int64), np.empty(weight.shape[1])
    for d in range(weight.shape[0]):
        n_parts, is_hopeless, at_zero = 0, False, 0.0
        for w in range(weight.shape[1]):
            if weight[d, w] > 0.0:
                part[n_parts] = w
                n_parts += 1
                is_hopeless |= first[d, w] == 0.0
                at_zero += weight[d, w] * first[d, w]
        if is_hopeless:
            continue
        n, below, total = -1.0, 2.0, 0.0
        for k in range(probability.shape[1]):
            if probability[d, k] <= below:  # passed already, or not begun
                n, below, total = 0.0, 0.0, at_zero
                for i in range(n_parts):
                    mass[i] = weight[d, part[i]] * first[d, part[i]]
            while total < probability[d, k] and n < MOST_COUNTS:
                n += 1.0
                below, per_count = total, 1.0 / n
                for i in range(n_parts):
                    mass[i] *= slope[d, part[i]] + start[d, part[i]] * per_count
                    total += mass[i]
            if total >= probability[d, k]:
                counts[d, k] = n
    return counts


@njit(cache=True)
def mass_at(first: FloatArray, slope: FloatArray, start: FloatArray, count: FloatArray) -> FloatArray:
    """Return P(D = count), shape (k, d); 0 where it is negative or not whole, NaN where the climb was given up."""
    mass = np.full(count.shape, np.nan)
    for k in range(count.shape[0]):
        for d in range(first.size):
            if count[k, d] < 0.0 or count[k, d] != np.floor(count[k, d]):
                mass[k, d] = 0.0
            elif first[d] > 0.0 and count[k, d] <= MOST_COUNTS_TO_ONE:
                product = first[d]
                for i in range(int(count[k, d])):
                    product *= slope[d] + start[d] / (i + 1.0)
                mass[k, d] = product
    return mass


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


@njit(cache=True)
def least_sums(
    log_first: FloatArray, weight: FloatArray, ratio: FloatArray, poisson: FloatArray, probability: FloatArray
) -> FloatArray:
    """Return the least n with P(sum <= n) >= probability, for sums of independent negative binomials and a Poisson.

    The logarithm of the generating function is that of p_w^r_w / (1 - q_w s)^r_w summed over w, plus m (s - 1). Its
    derivative gives, with T_w(n) = q_w (r_w p(n) + T_w(n - 1)),

        (n + 1) p(n + 1) = m p(n) + sum_w T_w(n).

    All terms are positive, so nothing cancels. The climb starts at 1 instead of P(sum = 0), which may be below the
    smallest float, and is scaled down as it grows.

    Parameters
    ----------
    log_first : ndarray, shape (d,)
        log P(sum = 0).
    weight, ratio : ndarray, shape (d, w)
        q_w r_w and q_w; zeros where a sum has fewer parts.
    poisson : ndarray, shape (d,)
        m >= 0.
    probability : ndarray, shape (k,)
        Ascending, in [0, 1).
    """
    counts = np.empty((log_first.size, probability.size))
    for d in range(log_first.size):
        part = np.zeros(weight.shape[1])
        scale, n, mass, total = log_first[d], 0.0, 1.0, 1.0
        for k in range(probability.size):
            # Where the rest of the tail is below rounding the climb has arrived, whatever the start was rounded to.
            while total * np.exp(scale) < probability[k] and mass > 1e-20 * total:
                following = poisson[d] * mass
                for w in range(part.size):
                    part[w] = weight[d, w] * mass + ratio[d, w] * part[w]
                    following += part[w]
                n += 1.0
                mass = following / n
                total += mass
                if total > LARGE:
                    scale += LOG_LARGE
                    mass, total = mass / LARGE, total / LARGE
                    part /= LARGE
            counts[d, k] = n
    return counts
