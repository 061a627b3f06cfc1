"""What a forecast answers: distributions of demand cumulated over the next h periods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from forecasting.distribution import NegativeBinomial
from forecasting.empirical import EmpiricalDemand

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class DemandForecast:
    """Demand per SKU, cumulated over the next h periods, for every h asked for.

    Attributes
    ----------
    skus : pandas.Index
        Labels of the n SKUs, in the order of the history's columns.
    horizons : ndarray of int, shape (k,)
        Numbers of periods, ascending.
    mean, variance : ndarray of float, shape (n, k)
        Moments of the cumulated demand; the level's own uncertainty is in the variance.
    level_variation : ndarray of float, shape (n,)
        Squared coefficient of variation of the level: the part of the spread that all periods share.
    method, reason, demand_class : pandas.Series of str, indexed by SKU
        Which method was chosen, why in one sentence, and how the SKU sells.
    benchmarks : DataFrame
        Backtest per demand class and method.
    quantiles : tuple of float
        Probabilities that ``to_frame`` tabulates.
    empirical_rows, empirical_outcomes : ndarray, shapes (e,) and (e, k, w)
        SKUs whose distribution is the recent past itself, with its outcomes; all others are negative binomial.
    """

    skus: pd.Index
    horizons: NDArray[np.int64]
    mean: FloatArray
    variance: FloatArray
    level_variation: FloatArray
    method: pd.Series
    reason: pd.Series
    demand_class: pd.Series
    benchmarks: pd.DataFrame
    quantiles: tuple[float, ...]
    empirical_rows: NDArray[np.intp]
    empirical_outcomes: FloatArray

    def pmf(self, x: ArrayLike) -> FloatArray:
        """Return P(D_h = x), shape (n, k); x broadcasts against it."""
        return self._ask("pmf", x)

    def cdf(self, x: ArrayLike) -> FloatArray:
        """Return P(D_h <= x), shape (n, k)."""
        return self._ask("cdf", x)

    def sf(self, x: ArrayLike) -> FloatArray:
        """Return P(D_h > x), shape (n, k)."""
        return self._ask("sf", x)

    def ppf(self, q: ArrayLike) -> FloatArray:
        """Return the least x with P(D_h <= x) >= q, shape (n, k)."""
        return self._ask("ppf", q)

    def expected_shortage(self, x: ArrayLike) -> FloatArray:
        """Return E[(D_h - x)+], shape (n, k)."""
        return self._ask("expected_shortage", x)

    def _ask(self, question: Literal["pmf", "cdf", "sf", "ppf", "expected_shortage"], x: ArrayLike) -> FloatArray:
        """Ask the negative binomials, then the empirical distributions for their own rows."""
        given = np.asarray(x, dtype=float)
        given = np.broadcast_to(given, np.broadcast_shapes(given.shape, self.mean.shape))
        answer: FloatArray = getattr(NegativeBinomial(self.mean, self.variance), question)(given)
        if self.empirical_rows.size:
            own = EmpiricalDemand(self.empirical_outcomes)
            answer[..., self.empirical_rows, :] = getattr(own, question)(given[..., self.empirical_rows, :])
        return answer

    def sample(self, paths: int, rng: np.random.Generator) -> NDArray[np.int64]:
        """Draw cumulated demand, shape (paths, n, k), ascending along the horizons.

        One gamma distributed factor per path and SKU moves all periods together (the uncertain level); the rest of
        the spread is drawn apart for each step between two horizons.
        """
        steps = np.diff(self.mean, axis=1, prepend=0.0)
        shared = self.level_variation[:, None]
        own = np.diff(self.variance - shared * self.mean**2, axis=1, prepend=0.0)
        cv2 = np.where(shared > 0, shared, 1.0)
        factor = np.where(shared > 0, rng.gamma(1.0 / cv2, cv2, size=(paths, *shared.shape)), 1.0)
        # Given the factor g the step has mean g m and keeps its variance-to-mean ratio, so totals agree.
        mean = steps * factor
        ratio = np.divide(own, steps, out=np.ones_like(own), where=steps > 0)
        return np.cumsum(NegativeBinomial(mean, mean * np.maximum(ratio, 1.0)).sample(rng), axis=2)

    def to_frame(self, quantiles: Sequence[float] | None = None) -> pd.DataFrame:
        """Return one row per SKU and horizon: mean, variance and the quantiles as columns named by probability."""
        asked = self.quantiles if quantiles is None else tuple(quantiles)
        index = pd.MultiIndex.from_product([self.skus, self.horizons], names=["sku", "horizon"])
        columns = {"mean": self.mean.ravel(), "variance": self.variance.ravel()}
        columns |= {f"{q:g}": self.ppf(q).ravel() for q in asked}
        return pd.DataFrame(columns, index=index).reset_index()
