"""Negative binomial demand by its moments, for whole arrays at once.

A count with mean m and variance v > m is negative binomial with size r = m^2 / (v - m) and success probability
p = m / v. Where v <= m it is taken as its limit, the Poisson distribution: a count of independent units cannot
be more regular than that unless orders are planned.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import prod

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from forecasting.count_search import least_count
from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]

# Below this excess of variance over mean the size r is so large that its logarithms cancel; Poisson is then nearer.
POISSON_EXCESS_SHARE = 1e-9


@dataclass(frozen=True)
class NegativeBinomial:
    """Negative binomial distributions given by mean and variance; Poisson where variance <= mean.

    Parameters
    ----------
    mean : array_like of float
        Mean of each distribution, >= 0, finite, any shape.
    variance : array_like of float
        Variance, >= 0, finite, broadcastable with ``mean``.

    Raises
    ------
    ParameterError
        If a mean or variance is negative or not finite.

    Notes
    -----
    A mean of zero is the point mass at zero, whatever variance is given. Arguments may be real: they are
    rounded down.

    References
    ----------
    Johnson, N.L., Kemp, A.W. & Kotz, S., Univariate Discrete Distributions, 3rd ed., Wiley 2005, ch. 5 (from memory).

    Examples
    --------
    >>> float(NegativeBinomial(mean=16.0, variance=80.0).expected_shortage(14).round(6))
    4.447305
    """

    mean: FloatArray
    variance: FloatArray

    def __init__(self, mean: ArrayLike, variance: ArrayLike) -> None:
        m, v = np.broadcast_arrays(np.asarray(mean, dtype=float), np.asarray(variance, dtype=float))
        for name, values in (("mean", m), ("variance", v)):
            if values.size and not (values.min() >= 0 and values.max() < np.inf):
                where = np.argwhere(~(np.isfinite(values) & (values >= 0)))[0].tolist()
                value = values[tuple(where)]
                raise ParameterError(
                    "{name} must be finite and >= 0; got {value} at {where!s}", name=name, value=value, where=where
                )
        object.__setattr__(self, "mean", m)
        object.__setattr__(self, "variance", np.where(m == 0, 0.0, np.maximum(v, m)))  # a count with mean zero is zero

    @cached_property
    def _is_poisson(self) -> NDArray[np.bool_]:
        return np.asarray(self.variance <= self.mean * (1.0 + POISSON_EXCESS_SHARE))

    @cached_property
    def _size(self) -> FloatArray:
        """Size r, 1 where the distribution is Poisson."""
        excess = np.where(self._is_poisson, 1.0, self.variance - self.mean)
        return np.where(self._is_poisson, 1.0, self.mean * self.mean / excess)

    @cached_property
    def _success(self) -> FloatArray:
        """Success probability p, 1/2 where the distribution is Poisson."""
        return np.where(self._is_poisson, 0.5, self.mean / np.where(self._is_poisson, 1.0, self.variance))

    def pmf(self, x: ArrayLike) -> FloatArray:
        """Return P(D = x); zero where x is negative or not whole."""
        from forecasting.compiled.counts import mass_at  # noqa: PLC0415 - numba is loaded when first needed

        flat, count, shape = self._in_rows(np.asarray(x, dtype=float))
        mass = mass_at(flat.mean, flat.variance, count)
        row, place = np.nonzero(np.isnan(mass))
        mass[row, place] = flat.at(place)._pmf_of_many(count[row, place])
        return mass.reshape(shape)

    def _pmf_of_many(self, count: FloatArray) -> FloatArray:
        """Return P(D = count) for whole counts that are not worth a climb."""
        # C(k + r - 1, k) = 1 / ((k + r) B(r, k + 1)): betaln keeps its digits where r is large, gammaln does not.
        log_nb = (
            -np.log(count + self._size)
            - special.betaln(self._size, count + 1.0)
            + self._size * np.log(self._success)
            + special.xlog1py(count, -self._success)
        )
        log_poisson = special.xlogy(count, self.mean) - self.mean - special.gammaln(count + 1.0)
        return np.asarray(np.exp(np.where(self._is_poisson, log_poisson, log_nb)))

    def cdf(self, x: ArrayLike) -> FloatArray:
        """Return P(D <= x)."""
        from forecasting.compiled.counts import cumulated  # noqa: PLC0415 - numba is loaded when first needed

        flat, count, shape = self._in_rows(np.floor(np.asarray(x, dtype=float)))
        at_most = cumulated(flat.mean, flat.variance, count)
        row, place = np.nonzero(np.isnan(at_most))
        at_most[row, place] = flat.at(place)._cdf_of_many(count[row, place])
        return at_most.reshape(shape)

    def _cdf_of_many(self, count: FloatArray) -> FloatArray:
        """Return P(D <= count) for counts that are not worth a climb."""
        at_most, nb, poisson = np.empty(count.shape), ~self._is_poisson, self._is_poisson
        at_most[nb] = special.betainc(self._size[nb], count[nb] + 1.0, self._success[nb])
        at_most[poisson] = special.gammaincc(count[poisson] + 1.0, self.mean[poisson])
        return at_most

    def _in_rows(self, values: FloatArray) -> tuple[NegativeBinomial, FloatArray, tuple[int, ...]]:
        """Return the distributions as one row, values as rows that match it, and the shape of the answer."""
        shape = np.broadcast_shapes(values.shape, self.mean.shape)
        flat = self
        if shape[len(shape) - self.mean.ndim :] != self.mean.shape:
            flat = self._each(lambda values: np.broadcast_to(values, shape))
        n_rows = prod(shape[: len(shape) - flat.mean.ndim])
        rows = np.broadcast_to(values, shape).reshape(n_rows, flat.mean.size)
        return flat._each(np.ravel), np.ascontiguousarray(rows), shape

    def at(self, index: NDArray[np.intp] | tuple[NDArray[np.intp], ...]) -> NegativeBinomial:
        """Return some of the distributions."""
        return self._each(lambda values: values[index])

    def _each(self, change: Callable[[FloatArray], FloatArray]) -> NegativeBinomial:
        """Return the distributions at other places; what was checked need not be again."""
        changed = object.__new__(NegativeBinomial)
        object.__setattr__(changed, "mean", change(self.mean))
        object.__setattr__(changed, "variance", change(self.variance))
        return changed

    def sf(self, x: ArrayLike) -> FloatArray:
        """Return P(D > x), exact in the far tail (not 1 - cdf)."""
        k = np.floor(np.asarray(x, dtype=float))
        k_safe = np.maximum(k, 0.0)
        nb = special.betaincc(self._size, k_safe + 1.0, self._success)
        poisson = special.gammainc(k_safe + 1.0, self.mean)
        return np.where(k < 0, 1.0, np.where(self._is_poisson, poisson, nb))

    def ppf(self, q: ArrayLike) -> FloatArray:
        """Return the least whole x >= 0 with P(D <= x) >= q, for 0 <= q < 1.

        Raises
        ------
        ParameterError
            If a probability is outside [0, 1).
        """
        probability = np.asarray(q, dtype=float)
        if np.any(~((probability >= 0) & (probability < 1))):
            raise ParameterError("a probability must be in [0, 1); got {q!r}", q=q)
        from forecasting.compiled.counts import least_counts  # noqa: PLC0415 - numba is loaded when first needed

        flat, rows, shape = self._in_rows(probability)
        counts = np.ascontiguousarray(least_counts(flat.mean, flat.variance, rows.T.copy()).T)
        row, place = np.nonzero(np.isnan(counts))
        counts[row, place] = _least_count_reaching(flat.at(place), rows[row, place])
        return counts.reshape(shape)

    def expected_shortage(self, x: ArrayLike) -> FloatArray:
        """Return E[(D - x)+] for real x.

        Notes
        -----
        E[D; D > k] = m P(D' >= k), D' negative binomial of size r + 1 with the same p (Poisson: D' = D).
        Between whole numbers the function is linear, below zero it is m - x.
        """
        level = np.asarray(x, dtype=float)
        k = np.maximum(np.floor(level), 0.0)
        above = self.sf(k)
        nb = np.where(k == 0, 1.0, special.betaincc(self._size + 1.0, np.maximum(k, 1.0), self._success))
        poisson = np.where(k == 0, 1.0, special.gammainc(np.maximum(k, 1.0), self.mean))
        at_k = np.maximum(self.mean * np.where(self._is_poisson, poisson, nb) - k * above, 0.0)
        return np.asarray(np.where(level < 0, self.mean - level, np.maximum(at_k - (level - k) * above, 0.0)))

    def sample(self, rng: np.random.Generator, *, size: tuple[int, ...] = ()) -> NDArray[np.int64]:
        """Draw counts of shape ``size + mean.shape`` as Poisson counts with gamma distributed rates."""
        shape = size + self.mean.shape
        with_gamma = rng.gamma(self._size, (1.0 - self._success) / self._success, size=shape)
        return np.asarray(rng.poisson(np.where(self._is_poisson, self.mean, with_gamma)), dtype=np.int64)


def _least_count_reaching(dist: NegativeBinomial, q: FloatArray) -> FloatArray:
    """Find the quantile, starting from the normal-power approximation."""
    spread = np.sqrt(dist.variance)
    z = special.ndtri(np.maximum(q, 1e-12))
    skew = np.divide(2 * dist.variance - dist.mean, dist.mean * spread, out=np.zeros_like(q), where=dist.mean > 0)
    guess = dist.mean + spread * (z + skew * (z * z - 1.0) / 6.0)
    return least_count(lambda place, count: dist.at(place).cdf(count), q, guess=guess, spread=spread)
