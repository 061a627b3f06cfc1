"""The table that shows how the mixture and every benchmark did."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.backtest import CLASSES, Backtest, Scores
from forecasting.methods.candidates import CHOSEN, RECENT_PAST, Candidate

FloatArray = NDArray[np.float64]

COLUMNS = ("demand_class", "method", "is_benchmark", "windows", "loss")


def benchmark_table(
    backtest: Backtest | None,
    honest: Scores | None,
    candidates: tuple[Candidate, ...],
    *,
    quantiles: tuple[float, ...],
) -> pd.DataFrame:
    """Return one row per demand class (and "all") and benchmark, and the row "chosen": the mixture.

    Columns: ``windows`` scored, ``loss`` (sum of the pinball losses, averaged over the quantiles, over sum of demand),
    and ``coverage_0.95`` and its like: the share of outcomes at or below the quantile, randomised because demand is
    discrete; equal to the probability if calibrated.

    Notes
    -----
    The mixture of an origin has its weights from windows that were over by then, so it is an honest outcome. All rows
    are over the same windows, those where it could be scored. A class in which nothing was sold has no row: there is
    nothing to divide its loss by.
    """
    names = [f"coverage_{q:g}" for q in quantiles]
    if backtest is None or honest is None:
        return pd.DataFrame(columns=[*COLUMNS, *names])
    labels = [*(c.name for c in candidates if c.is_benchmark), RECENT_PAST, CHOSEN]
    is_honest = ~np.isnan(honest.loss)
    rows = []
    for c, demand_class in [*enumerate(CLASSES), (-1, "all")]:
        is_in = is_honest & ((backtest.demand_class == c) | (c < 0))
        for b, label in enumerate(labels):
            of = honest if label == CHOSEN else backtest.plain.at((slice(None), b))
            windows, scaled, covered = _figures(is_in, of, backtest.actual, quantiles)
            rows.append((demand_class, label, label != CHOSEN, windows, scaled, *covered))
    table = pd.DataFrame(rows, columns=[*COLUMNS, *names])
    return table[table["loss"].notna()].reset_index(drop=True)


def _figures(
    is_in: NDArray[np.bool_], scores: Scores, actual: FloatArray, quantiles: tuple[float, ...]
) -> tuple[int, float, list[float]]:
    """Return windows, scaled loss and coverage of one row; NaN without windows or demand."""
    counts = is_in & ~np.isnan(scores.loss)
    windows, demand = int(counts.sum()), float(actual[counts].sum())
    if demand <= 0:
        return windows, float("nan"), [float("nan")] * len(quantiles)
    scored = scores.at(counts)
    covered = scored.coverage(quantiles)
    return windows, float(scored.loss.sum()) / demand, list(covered.mean(axis=0))
