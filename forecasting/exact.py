"""The exact distribution of demand over days whose weekdays differ: sums of independent negative binomials.

Days of one weekday sum to one negative binomial in closed form; weekdays of different success probability do not. The
counts of the sum follow from each other by a recursion of one step per weekday, so no convolution is taken.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class SummedDemand:
    """Sums of independent negative binomial (or Poisson) parts.

    Parameters
    ----------
    mean, variance : ndarray, shape (n, w)
        Of each part, >= 0, finite. Where variance <= mean the part is Poisson.

    Raises
    ------
    ParameterError
        If a mean or variance is negative or not finite.

    References
    ----------
    Furman, E. (2007), On the convolution of the negative binomial random variables, Statistics & Probability Letters
    77(2), 169-172, for the distribution; the recursion is the derivative of the logarithm of its generating function,
    as in Panjer, H.H. (1981), Recursive evaluation of a family of compound distributions, ASTIN Bulletin 12(1), 22-26
    (both from memory).

    Examples
    --------
    >>> SummedDemand(np.array([[1.0, 2.0]]), np.array([[1.0, 4.0]])).ppf([0.5, 0.99]).tolist()
    [[3.0, 10.0]]
    """

    mean: FloatArray
    variance: FloatArray

    def __post_init__(self) -> None:
        for name, values in (("mean", self.mean), ("variance", self.variance)):
            is_bad = ~(np.isfinite(values) & (values >= 0))
            if is_bad.any():
                row, part = np.argwhere(is_bad)[0].tolist()
                raise ParameterError(
                    "{name} must be finite and >= 0; got {value} at row {row}, part {part}",
                    name=name,
                    value=values[row, part],
                    row=row,
                    part=part,
                )

    def ppf(self, q: ArrayLike) -> FloatArray:
        """Return the least whole x with P(D <= x) >= q, shape (n, k), for k probabilities in [0, 1).

        Notes
        -----
        Cost grows with the quantile and the number of parts.
        """
        from forecasting.compiled.counts import least_sums  # noqa: PLC0415 - numba is loaded when first needed

        probability = np.atleast_1d(np.asarray(q, dtype=float))
        if np.any(~((probability >= 0) & (probability < 1))):
            raise ParameterError("a probability must be in [0, 1); got {q!r}", q=q)
        order = np.argsort(probability)
        counts = np.empty((self.mean.shape[0], probability.size))
        counts[:, order] = least_sums(*self._terms(), probability[order])
        return counts

    def _terms(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return log P(D = 0), q r and q of each part, and the mean of all Poisson parts together."""
        excess = self.variance - self.mean
        is_poisson = (excess <= 0) | (self.mean == 0)
        safe_mean, safe_excess = np.where(is_poisson, 1.0, self.mean), np.where(is_poisson, 1.0, excess)
        size = safe_mean**2 / safe_excess
        ratio = np.where(is_poisson, 0.0, safe_excess / (safe_mean + safe_excess))
        poisson = np.where(is_poisson, self.mean, 0.0).sum(axis=1)
        log_first = -np.where(is_poisson, 0.0, size * np.log1p(safe_excess / safe_mean)).sum(axis=1) - poisson
        return log_first, ratio * size, ratio, poisson


def demand_of_days(*, mean: ArrayLike, size: ArrayLike, factor: FloatArray, weekday: IntArray) -> SummedDemand:
    """Return the demand over some days, each negative binomial with mean f m and size r: variance f m + (f m)^2 / r.

    Parameters
    ----------
    mean, size : array_like, shape (n,)
        m, units per day of factor 1, and r > 0.
    factor : ndarray, shape (n, weekdays)
        f of each weekday.
    weekday : ndarray of int, shape (days,)
        Place of each day's weekday in ``factor``.
    """
    days = np.bincount(weekday, minlength=factor.shape[1])
    daily = np.asarray(mean, dtype=float)[:, None] * factor
    return SummedDemand(days * daily, days * (daily + daily**2 / np.asarray(size, dtype=float)[:, None]))
