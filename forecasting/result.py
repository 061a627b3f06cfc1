"""What a forecast answers: distributions of demand cumulated over the next h periods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from forecasting.mixture import Mixture
from forecasting.outlook import Outlook, mixed, sampled_steps
from forecasting.quanta import counted

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Proof:
    """What the rolling origins showed: scores per demand class and method, alarms, and the record of each SKU."""

    benchmarks: pd.DataFrame
    alarms: pd.DataFrame
    track: pd.DataFrame


@dataclass(frozen=True)
class DemandForecast:
    """Demand per SKU, cumulated over the next h periods, for every h asked for.

    Attributes
    ----------
    skus : pandas.Index
        Labels of the n SKUs, in the order of the history's columns.
    horizons : ndarray of int, shape (k,)
        Numbers of periods, ascending.
    outlook : Outlook
        What each method says of the n SKUs and k horizons.
    weight : ndarray, shape (methods, n)
        Share of each method; they sum to 1.
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
    outlook: Outlook
    weight: FloatArray
    method: pd.Series
    reason: pd.Series
    demand_class: pd.Series
    proof: Proof
    quantiles: tuple[float, ...]
    quantum: FloatArray

    @cached_property
    def mixture(self) -> Mixture:
        """What the methods say, each with its weight, in quanta."""
        return mixed(self.outlook, self.weight)

    @property
    def benchmarks(self) -> pd.DataFrame:
        """Scores of the mixture and of every plain method, per demand class."""
        return self.proof.benchmarks

    @property
    def alarms(self) -> pd.DataFrame:
        """SKUs and classes that have lately left their forecast, with since when."""
        return self.proof.alarms

    @property
    def track(self) -> pd.DataFrame:
        """How the forecast of each SKU did on past windows, see ``track_records``."""
        return self.proof.track

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

        A path of a SKU follows one method of its mixture throughout; see ``sampled_steps`` for its periods.
        """
        drawn = self._drawn_methods(paths, rng)
        said = Outlook(
            *(getattr(self.outlook, part.name)[drawn, np.arange(len(self.skus))] for part in fields(Outlook))
        )
        return np.asarray(np.cumsum(sampled_steps(said, rng), axis=2) * self._quantum)

    def _drawn_methods(self, paths: int, rng: np.random.Generator) -> NDArray[np.intp]:
        """Return for each path and SKU the method that it follows."""
        reached = np.cumsum(self.weight, axis=0)
        uniform = rng.uniform(size=(paths, 1, len(self.skus)))
        return np.asarray(np.minimum((uniform > reached).sum(axis=1), reached.shape[0] - 1))

    def to_frame(self, quantiles: Sequence[float] | None = None) -> pd.DataFrame:
        """Return one row per SKU and horizon: mean, variance and the quantiles as columns named by probability."""
        asked = self.quantiles if quantiles is None else tuple(quantiles)
        index = pd.MultiIndex.from_product([self.skus, self.horizons], names=["sku", "horizon"])
        columns = {"mean": self.mean.ravel(), "variance": self.variance.ravel()}
        columns |= {f"{q:g}": self.ppf(q).ravel() for q in asked}
        return pd.DataFrame(columns, index=index).reset_index()
