"""What a forecast answers: distributions of demand cumulated over the next h periods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from forecasting.distribution import NegativeBinomial
from forecasting.mixture import Mixture
from forecasting.quanta import counted

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Proof:
    """What the rolling origins showed: scores per demand class and method, and the alarms of ``alarms_of``."""

    benchmarks: pd.DataFrame
    alarms: pd.DataFrame


@dataclass(frozen=True)
class DemandForecast:
    """Demand per SKU, cumulated over the next h periods, for every h asked for.

    Attributes
    ----------
    skus : pandas.Index
        Labels of the n SKUs, in the order of the history's columns.
    horizons : ndarray of int, shape (k,)
        Numbers of periods, ascending.
    mixture : Mixture
        Of the n SKUs and k horizons: what the methods say, each with its weight.
    level_variation : ndarray of float, shape (parts, n)
        Squared coefficient of variation of the level of each part: the spread that all periods share.
    method, reason, demand_class : pandas.Series of str, indexed by SKU
        Which method has most weight, the mixture and its proof in one sentence, and how the SKU sells.
    proof : Proof
        Outcome of the rolling origins.
    quantiles : tuple of float
        Probabilities that ``to_frame`` tabulates.
    quantum : ndarray, shape (n,)
        What ``mixture`` counts: 1 where demand is whole, see ``forecasting.quanta``. All answers are in units.
    """

    skus: pd.Index
    horizons: NDArray[np.int64]
    mixture: Mixture
    level_variation: FloatArray
    method: pd.Series
    reason: pd.Series
    demand_class: pd.Series
    proof: Proof
    quantiles: tuple[float, ...]
    quantum: FloatArray

    @property
    def benchmarks(self) -> pd.DataFrame:
        """Scores of the mixture and of every plain method, per demand class."""
        return self.proof.benchmarks

    @property
    def alarms(self) -> pd.DataFrame:
        """SKUs and classes that have lately left their forecast, with since when."""
        return self.proof.alarms

    @property
    def mean(self) -> FloatArray:
        """Mean of the cumulated demand, shape (n, k)."""
        return self.mixture.mean * self._quantum

    @property
    def variance(self) -> FloatArray:
        """Variance of the cumulated demand, shape (n, k); the uncertainty of the level is in it."""
        return self.mixture.variance * self._quantum**2

    def pmf(self, x: ArrayLike) -> FloatArray:
        """Return P(D_h = x), shape (n, k); x broadcasts against it."""
        return self.mixture.pmf(self._counts(x))

    def cdf(self, x: ArrayLike) -> FloatArray:
        """Return P(D_h <= x), shape (n, k)."""
        return self.mixture.cdf(self._counts(x))

    def sf(self, x: ArrayLike) -> FloatArray:
        """Return P(D_h > x), shape (n, k)."""
        return self.mixture.sf(self._counts(x))

    def ppf(self, q: ArrayLike) -> FloatArray:
        """Return the least x with P(D_h <= x) >= q, shape (n, k)."""
        return self.mixture.ppf(q) * self._quantum

    def expected_shortage(self, x: ArrayLike) -> FloatArray:
        """Return E[(D_h - x)+], shape (n, k)."""
        return self.mixture.expected_shortage(np.asarray(x) / self._quantum) * self._quantum

    @property
    def _quantum(self) -> FloatArray:
        return self.quantum[:, None]

    def _counts(self, x: ArrayLike) -> FloatArray:
        return counted(np.asarray(x, dtype=float), self._quantum)

    def sample(self, paths: int, rng: np.random.Generator) -> FloatArray:
        """Draw cumulated demand, shape (paths, n, k), ascending along the horizons.

        A path of a SKU follows one method of its mixture throughout. One gamma distributed factor moves all its
        periods together (the uncertain level of that method); the rest of the spread is drawn apart for each step
        between two horizons.
        """
        part = self._drawn_parts(paths, rng)
        rows = np.arange(len(self.skus))
        mean, variance = self.mixture.parts.mean[part, rows], self.mixture.parts.variance[part, rows]
        shared = self.level_variation[part, rows][..., None]
        steps = np.diff(mean, axis=2, prepend=0.0)
        own = np.diff(variance - shared * mean**2, axis=2, prepend=0.0)
        cv2 = np.where(shared > 0, shared, 1.0)
        factor = np.where(shared > 0, rng.gamma(1.0 / cv2, cv2), 1.0)
        # Given the factor g the step has mean g m and keeps its variance-to-mean ratio, so totals agree.
        stepped = steps * factor
        ratio = np.divide(own, steps, out=np.ones_like(own), where=steps > 0)
        drawn = NegativeBinomial(stepped, stepped * np.maximum(ratio, 1.0)).sample(rng)
        return np.asarray(np.cumsum(drawn, axis=2) * self._quantum)

    def _drawn_parts(self, paths: int, rng: np.random.Generator) -> NDArray[np.intp]:
        """Return for each path and SKU the method that it follows."""
        reached = np.cumsum(self.mixture.weight, axis=0)
        uniform = rng.uniform(size=(paths, 1, len(self.skus)))
        return np.asarray(np.minimum((uniform > reached).sum(axis=1), reached.shape[0] - 1))

    def to_frame(self, quantiles: Sequence[float] | None = None) -> pd.DataFrame:
        """Return one row per SKU and horizon: mean, variance and the quantiles as columns named by probability."""
        asked = self.quantiles if quantiles is None else tuple(quantiles)
        index = pd.MultiIndex.from_product([self.skus, self.horizons], names=["sku", "horizon"])
        columns = {"mean": self.mean.ravel(), "variance": self.variance.ravel()}
        columns |= {f"{q:g}": self.ppf(q).ravel() for q in asked}
        return pd.DataFrame(columns, index=index).reset_index()
