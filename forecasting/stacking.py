"""Weights of the methods from what they said about demand that has come true since.

The weights w of a mixture maximise the weighted log likelihood sum_i u_i log(sum_k w_k p_ik), p_ik the probability
that method k gave to what happened in window i. It is concave in w, and the rounds

    r_ik = w_k p_ik / sum_j w_j p_ij,    w_k <- (sum_i u_i r_ik + a b_k) / (sum_i u_i + a)

climb to its maximum (expectation maximisation; b a prior worth a windows). A class starts from the weights of all SKUs
and has them as its prior, so that a class with few windows borrows them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Windows that the prior counts for, of all SKUs together and of a class; rules of ours.
PRIOR_WINDOWS, CLASS_PRIOR_WINDOWS = 20.0, 50.0
ROUNDS = 40
# A weight below this is no say; the mixture is kept short.
LEAST_WEIGHT = 0.01


@dataclass(frozen=True)
class Windows:
    """What happened in N windows.

    Attributes
    ----------
    mass : ndarray, shape (K, N)
        Probability that each method gave to what happened; NaN where it did not apply.
    demand_class : ndarray of int, shape (N,)
    count : ndarray, shape (N,)
        How much a window counts.
    """

    mass: FloatArray
    demand_class: IntArray
    count: FloatArray


def learned_weights(windows: Windows, *, prior: FloatArray, n_classes: int) -> FloatArray:
    """Return the weights by class, shape (classes, K); ``prior`` (K,) where nothing is known.

    References
    ----------
    Yao, Y., Vehtari, A., Simpson, D. & Gelman, A. (2018), Using stacking to average Bayesian predictive distributions,
    Bayesian Analysis 13(3), 917-1003: weights by the log score of held-out data.
    Dempster, A.P., Laird, N.M. & Rubin, D.B. (1977), Maximum likelihood from incomplete data via the EM algorithm,
    Journal of the Royal Statistical Society B 39, 1-38.
    """
    if windows.count.size == 0:
        return np.tile(prior, (n_classes, 1))
    mass, count = _without_gaps(windows.mass), windows.count / windows.count.mean()
    equal = np.full(prior.size, 1.0 / prior.size)
    overall = _climbed(mass, count, start=equal, prior=PRIOR_WINDOWS * prior)
    by_class = np.tile(overall, (n_classes, 1))
    for c in np.unique(windows.demand_class):
        is_in = windows.demand_class == c
        by_class[c] = _climbed(mass[:, is_in], count[is_in], start=overall, prior=CLASS_PRIOR_WINDOWS * overall)
    return by_class


def _without_gaps(mass: FloatArray) -> FloatArray:
    """Give a method that did not apply the mean of the others: no credit, no blame."""
    is_gap = np.isnan(mass)
    known = np.where(is_gap, 0.0, mass)
    filled = np.where(is_gap, known.sum(axis=0) / np.maximum((~is_gap).sum(axis=0), 1), known)
    # What no method gave any chance says nothing about which is right.
    return np.asarray(np.where(filled.any(axis=0), filled, 1.0))


def _climbed(mass: FloatArray, count: FloatArray, *, start: FloatArray, prior: FloatArray) -> FloatArray:
    weight = start
    for _ in range(ROUNDS):
        given = np.maximum(weight @ mass, np.finfo(float).tiny)
        weight = weight * (mass @ (count / given)) + prior
        weight = weight / weight.sum()
    return weight


def usable(weight: FloatArray, *, applies: NDArray[np.bool_]) -> FloatArray:
    """Return the weights (K, n) without methods that do not apply or have next to no say, summing to 1."""
    possible = np.where(applies, weight, 0.0)
    possible = possible / possible.sum(axis=0)
    kept = np.where(possible >= LEAST_WEIGHT, possible, 0.0)
    return np.asarray(kept / kept.sum(axis=0))
