"""Mixtures of negative binomials: the predictive distribution of a SKU that several methods have a say in.

With weights w_k, P(D <= x) = sum w_k P_k(D <= x); so are all other probabilities, the mean and the expected shortage,
and the variance is that of the parts plus that of their means:

    E D = sum w_k m_k,   Var D = sum w_k (v_k + m_k^2) - (E D)^2.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from forecasting.count_search import least_count
from forecasting.distribution import NegativeBinomial
from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Mixture:
    """Mixtures of K negative binomials for n SKUs and h horizons.

    Parameters
    ----------
    weight : ndarray, shape (K, n, h) or (K, n, 1)
        Shares >= 0 that sum to 1 for every SKU and horizon.
    parts : NegativeBinomial
        Of shape (K, n, h).

    Raises
    ------
    ParameterError
        If the shares of a SKU do not sum to 1, or one is negative.

    Examples
    --------
    >>> half = np.full((2, 1, 1), 0.5)
    >>> mixed = Mixture(half, NegativeBinomial(mean=[[[1.0]], [[3.0]]], variance=[[[1.0]], [[3.0]]]))
    >>> float(mixed.mean[0, 0]), float(mixed.variance[0, 0])
    (2.0, 3.0)
    """

    weight: FloatArray
    parts: NegativeBinomial

    def __post_init__(self) -> None:
        is_fine = np.all(self.weight >= 0, axis=0) & (np.abs(self.weight.sum(axis=0) - 1.0) < 1e-9)
        if not np.all(is_fine):
            raise ParameterError(
                "the shares of a mixture must sum to 1; not so for SKU {place}",
                place=int(np.argmin(is_fine.all(axis=1))),
            )

    @cached_property
    def mean(self) -> FloatArray:
        """Mean, shape (n, h)."""
        return self._weighted(self.parts.mean)

    @cached_property
    def variance(self) -> FloatArray:
        """Variance, shape (n, h)."""
        return self._weighted(self.parts.variance + (self.parts.mean - self.mean) ** 2)

    def pmf(self, x: ArrayLike) -> FloatArray:
        """Return P(D = x)."""
        return self._mixed(NegativeBinomial.pmf, x)

    def cdf(self, x: ArrayLike) -> FloatArray:
        """Return P(D <= x)."""
        return np.minimum(self._mixed(NegativeBinomial.cdf, x), 1.0)

    def sf(self, x: ArrayLike) -> FloatArray:
        """Return P(D > x)."""
        return self._mixed(NegativeBinomial.sf, x)

    def expected_shortage(self, x: ArrayLike) -> FloatArray:
        """Return E[(D - x)+] for real x."""
        return self._mixed(NegativeBinomial.expected_shortage, x)

    def ppf(self, q: ArrayLike) -> FloatArray:
        """Return the least whole x >= 0 with P(D <= x) >= q, for 0 <= q < 1.

        Notes
        -----
        A climb from zero finds it; what is too large for that is searched for.
        """
        from forecasting.compiled.counts import least_mixed_counts  # noqa: PLC0415 - numba is loaded when first needed

        probability = np.asarray(q, dtype=float)
        shape = np.broadcast_shapes(probability.shape, self.mean.shape)
        rows = np.broadcast_to(probability, shape).reshape(-1, self.mean.size)
        weight = np.broadcast_to(self.weight, self.parts.mean.shape)
        share, mean, variance = (_part_last(of_part) for of_part in (weight, self.parts.mean, self.parts.variance))
        counts = np.ascontiguousarray(least_mixed_counts(share, mean, variance, rows.T.copy()).T)
        row, place = np.nonzero(np.isnan(counts))
        if place.size:
            sku, horizon = np.unravel_index(place, self.mean.shape)
            counts[row, place] = _searched(self.at(sku, horizon), rows[row, place])
        return counts.reshape(shape)

    def at(self, sku: NDArray[np.intp], horizon: NDArray[np.intp]) -> Mixture:
        """Return single mixtures as if they were SKUs with one horizon."""
        parts = NegativeBinomial(self.parts.mean[:, sku, horizon, None], self.parts.variance[:, sku, horizon, None])
        weight = np.broadcast_to(self.weight, self.parts.mean.shape)
        return Mixture(weight[:, sku, horizon, None], parts)

    def _weighted(self, of_parts: FloatArray) -> FloatArray:
        return np.asarray((self.weight * of_parts).sum(axis=0))

    def _mixed(self, function: Callable[[NegativeBinomial, FloatArray], FloatArray], x: ArrayLike) -> FloatArray:
        """Return the mean of a function of the parts, asking only those that have a share: the weights are sparse."""
        sku, part = np.nonzero(self.weight.any(axis=2).T)
        given = np.asarray(x, dtype=float)
        if given.ndim >= 2:
            given = np.broadcast_to(given, np.broadcast_shapes(given.shape, self.mean.shape))[..., sku, :]
        first = np.flatnonzero(np.diff(sku, prepend=-1))
        values = self.weight[part, sku] * function(self.parts.at((part, sku)), given)
        return np.asarray(np.add.reduceat(values, first, axis=-2))


def _part_last(of_parts: FloatArray) -> FloatArray:
    """Return (K, n, h) as (n h, K)."""
    return np.ascontiguousarray(of_parts.reshape(of_parts.shape[0], -1).T)


def _searched(mixture: Mixture, q: FloatArray) -> FloatArray:
    """Return the least count with P(D <= count) >= q, of n mixtures with one horizon and q (n,)."""

    def cdf(place: NDArray[np.intp], count: FloatArray) -> FloatArray:
        return mixture.at(place, np.zeros_like(place)).cdf(count[:, None])[:, 0]

    spread = np.sqrt(mixture.variance[:, 0])
    return least_count(cdf, q, guess=mixture.mean[:, 0] + spread * special.ndtri(np.maximum(q, 1e-12)), spread=spread)
