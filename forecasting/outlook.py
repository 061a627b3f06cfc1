"""What a method says about cumulated demand: its moments, and how often none is demanded at all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from forecasting.distribution import NegativeBinomial
from forecasting.mixture import Mixture

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Outlook:
    """Demand cumulated over 1 .. H periods by one method, or by several with a further first axis.

    Demands arrive as Poisson counts of mean a, at a level whose squared coefficient of variation is c, so that none
    comes with the chance z = (1 + c a)^(-1/c). What comes otherwise is negative binomial with the mean m / (1 - z) and
    the second moment (v + m^2) / (1 - z): mean m and variance v of the whole are those of the method. A SKU that sells
    rarely and then in dozens needs that; a negative binomial of its mean and variance would sell ones and twos. Where
    what comes otherwise would be more regular than Poisson it is Poisson, and the whole varies by more than v.

    Attributes
    ----------
    mean, variance : ndarray, shape (..., n, H)
        NaN where the method does not apply.
    arrivals : ndarray, shape (..., n, H)
        a; infinite where a method leaves demand negative binomial as it is.
    level_variation : ndarray, shape (..., n)
        c: the part of the variance that all periods share.
    """

    mean: FloatArray
    variance: FloatArray
    arrivals: FloatArray
    level_variation: FloatArray

    @property
    def applies(self) -> NDArray[np.bool_]:
        """Whether the method applies, by SKU."""
        return np.asarray(~np.isnan(self.mean).any(axis=-1))

    @property
    def idle(self) -> FloatArray:
        """z, the chance that nothing is demanded beyond what is so by the negative binomial."""
        is_lumpy, idle = np.isfinite(self.arrivals), np.zeros_like(self.arrivals)
        c = np.broadcast_to(np.maximum(self.level_variation, 1e-9)[..., None], idle.shape)[is_lumpy]
        idle[is_lumpy] = np.exp(-np.log1p(c * self.arrivals[is_lumpy]) / c)
        return idle

    def parted(self) -> tuple[FloatArray, NegativeBinomial]:
        """Return z, and demand where it is not idle: a point at zero where it always is, or no method applies."""
        idle, mean, variance = self.idle, np.nan_to_num(self.mean), np.nan_to_num(self.variance)
        is_lumpy = idle > 0
        share, given, spread = 1.0 - idle[is_lumpy], mean[is_lumpy], variance[is_lumpy]
        is_ever = share > 0
        mean[is_lumpy] = np.divide(given, share, out=np.zeros_like(share), where=is_ever)
        square = np.divide(spread + given**2, share, out=np.zeros_like(share), where=is_ever)
        variance[is_lumpy] = np.maximum(square - mean[is_lumpy] ** 2, 0.0)
        return idle, NegativeBinomial(mean, variance)

    def pmf(self, count: FloatArray) -> FloatArray:
        """Return P(D = count); NaN where the method does not apply."""
        idle, busy = self.parted()
        mass = idle * (count == 0) + (1.0 - idle) * busy.pmf(count)
        return np.where(np.isnan(self.mean), np.nan, mass)

    def at(self, horizons: NDArray[np.int64]) -> Outlook:
        """Return the outlook on some of the horizons, numbers of periods."""
        return self._placed(lambda part: part[..., horizons - 1])

    def at_each(self, horizon: NDArray[np.int64]) -> Outlook:
        """Return the outlook on each SKU's own horizon, as its only one."""
        rows = np.arange(horizon.size)
        return self._placed(lambda part: part[..., rows, horizon - 1, None])

    def of(self, method: NDArray[np.bool_]) -> Outlook:
        """Return the outlooks of some methods."""
        return Outlook(*(getattr(self, part.name)[method] for part in fields(self)))

    def _placed(self, place: Callable[[FloatArray], FloatArray]) -> Outlook:
        return Outlook(place(self.mean), place(self.variance), place(self.arrivals), self.level_variation)


def stacked(outlooks: Sequence[Outlook]) -> Outlook:
    """Return the outlooks of several methods as one, methods first."""
    return Outlook(*(np.stack([getattr(one, part.name) for one in outlooks]) for part in fields(Outlook)))


def mixed(outlook: Outlook, weight: FloatArray) -> Mixture:
    """Return the mixture of several methods by their weights (K, n); the chance of no demand is its last part."""
    (idle, busy), nothing = outlook.parted(), np.zeros_like(outlook.mean[:1])
    shares = weight[..., None] * (1.0 - idle), (weight[..., None] * idle).sum(axis=0, keepdims=True)
    moments = (np.concatenate([part, nothing]) for part in (busy.mean, busy.variance))
    return Mixture(np.concatenate(shares), NegativeBinomial(*moments))


def sampled_steps(outlook: Outlook, rng: np.random.Generator) -> NDArray[np.int64]:
    """Draw the demand between each two horizons, by one method a SKU, shape (..., n, H).

    One gamma distributed factor g, the uncertain level, moves all steps together; given it the steps are drawn apart,
    with g times their mean and arrivals and with their own ratio of variance to mean, so that totals agree.
    """
    mean, shared = np.nan_to_num(outlook.mean), outlook.level_variation[..., None]
    steps = np.diff(mean, axis=-1, prepend=0.0)
    own = np.diff(np.nan_to_num(outlook.variance) - shared * mean**2, axis=-1, prepend=0.0)
    ratio = np.maximum(np.divide(own, steps, out=np.ones_like(own), where=steps > 0), 1.0)
    cv2 = np.where(shared > 0, shared, 1.0)
    factor = np.where(shared > 0, rng.gamma(1.0 / cv2, cv2), 1.0)
    is_finite = np.isfinite(outlook.arrivals)
    arrivals = np.where(is_finite, np.diff(np.where(is_finite, outlook.arrivals, 0.0), axis=-1, prepend=0.0), np.inf)
    moved = np.maximum(factor, np.finfo(float).tiny)
    step = Outlook(steps * moved, steps * moved * ratio, arrivals * moved, np.zeros_like(outlook.level_variation))
    idle, busy = step.parted()
    return np.where(rng.uniform(size=idle.shape) < idle, 0, busy.sample(rng))
