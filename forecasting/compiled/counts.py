"""Distributions of counts, summed up from zero: p(n) follows from p(n - 1) by a few multiplications.

For small counts that takes nanoseconds where the incomplete beta function takes a microsecond, and one climb gives
all quantiles of a distribution.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from forecasting.distribution import POISSON_EXCESS_SHARE

FloatArray = NDArray[np.float64]

# A climb that has not arrived after so many counts is given up; for a single probability logarithms are quicker sooner.
MOST_COUNTS, MOST_COUNTS_TO_ONE = 4096.0, 32.0
# A sum's climb is scaled down when it has grown so far.
LARGE = 1e200
LOG_LARGE = float(np.log(LARGE))
# Floats below 2e-308 lose digits, and a start is multiplied by shares of a mixture.
LEAST_LOG = float(np.log(1e-290))


@njit(cache=True)
def climb(mean: float, variance: float) -> tuple[float, float, float]:
    """Return P(D = 0) and both terms of p(n) = p(n - 1) (slope + start / n): q and (r - 1) q; for Poisson 0 and m.

    P(D = 0) is returned as 0 where it is so small that its digits, and those of every p(n) after it, are lost.
    """
    excess = variance - mean
    if excess <= POISSON_EXCESS_SHARE * mean:
        log_first, slope, start = -mean, 0.0, mean
    else:
        log_first = -mean * mean / excess * np.log1p(excess / mean)
        slope, start = excess / variance, (mean * mean - excess) / variance
    return (np.exp(log_first) if log_first > LEAST_LOG else 0.0), slope, start


@njit(cache=True)
def least_counts(mean: FloatArray, variance: FloatArray, probability: FloatArray) -> FloatArray:
    """Return the least n with P(D <= n) >= probability, shape (d, k); NaN where the climb was given up.

    Parameters
    ----------
    mean, variance : ndarray, shape (d,)
        Where P(D = 0) is below the smallest float the climb is given up.
    probability : ndarray, shape (d, k)
        In [0, 1); a climb serves all k of a distribution if they ascend.
    """
    counts = np.full(probability.shape, np.nan)
    for d in range(mean.size):
        first, slope, start = climb(mean[d], variance[d])
        n, below, mass, total = -1.0, 2.0, 0.0, 0.0
        for k in range(probability.shape[1]):
            if probability[d, k] <= below:  # passed already, or not begun
                n, below, mass, total = 0.0, 0.0, first, first
            while total < probability[d, k] and n < MOST_COUNTS and first > 0.0:
                n += 1.0
                below = total
                mass *= slope + start / n
                total += mass
            if total >= probability[d, k] and first > 0.0:
                counts[d, k] = n
    return counts


@njit(cache=True)
def least_mixed_counts(
    weight: FloatArray, mean: FloatArray, variance: FloatArray, probability: FloatArray
) -> FloatArray:
    """Return what ``least_counts`` does of mixtures; ``weight``, ``mean`` and ``variance`` have shape (d, parts)."""
    counts = np.full(probability.shape, np.nan)
    share, mass, slope, start = np.empty((4, weight.shape[1]))
    for d in range(weight.shape[0]):
        n_parts, is_hopeless = 0, False
        for w in range(weight.shape[1]):
            if weight[d, w] > 0.0:
                share[n_parts], slope[n_parts], start[n_parts] = climb(mean[d, w], variance[d, w])
                is_hopeless |= share[n_parts] == 0.0
                share[n_parts] *= weight[d, w]
                n_parts += 1
        if is_hopeless:
            continue
        n, below, total = -1.0, 2.0, 0.0
        for k in range(probability.shape[1]):
            if probability[d, k] <= below:  # passed already, or not begun
                mass[:] = share
                n, below, total = 0.0, 0.0, share[:n_parts].sum()
            while total < probability[d, k] and n < MOST_COUNTS:
                n += 1.0
                below, per_count = total, 1.0 / n
                for i in range(n_parts):
                    mass[i] *= slope[i] + start[i] * per_count
                    total += mass[i]
            if total >= probability[d, k]:
                counts[d, k] = n
    return counts


@njit(cache=True)
def mass_at(mean: FloatArray, variance: FloatArray, count: FloatArray) -> FloatArray:
    """Return P(D = count), shape (k, d); 0 where it is negative or not whole, NaN where the climb was given up."""
    masses = np.full(count.shape, np.nan)
    for k in range(count.shape[0]):
        for d in range(mean.size):
            if count[k, d] < 0.0 or count[k, d] != np.floor(count[k, d]):
                masses[k, d] = 0.0
            elif count[k, d] <= MOST_COUNTS_TO_ONE:
                mass, slope, start = climb(mean[d], variance[d])
                if mass > 0.0:
                    for i in range(int(count[k, d])):
                        mass *= slope + start / (i + 1.0)
                    masses[k, d] = mass
    return masses


@njit(cache=True)
def cumulated(mean: FloatArray, variance: FloatArray, count: FloatArray) -> FloatArray:
    """Return P(D <= count) for whole counts, shape (k, d); 0 below zero, NaN where the climb was given up."""
    at_most = np.full(count.shape, np.nan)
    for k in range(count.shape[0]):
        for d in range(mean.size):
            if count[k, d] < 0.0:
                at_most[k, d] = 0.0
            elif count[k, d] <= MOST_COUNTS:
                mass, slope, start = climb(mean[d], variance[d])
                if mass > 0.0:
                    total = mass
                    for i in range(int(count[k, d])):
                        mass *= slope + start / (i + 1.0)
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
