"""The table that shows how every method did, the choice included."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.backtest import CLASSES, Backtest
from forecasting.methods.candidates import Candidate
from forecasting.selection import chosen_before

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

COLUMNS = ("demand_class", "method", "is_benchmark", "windows", "loss", "chosen_for")


def benchmark_table(
    backtest: Backtest | None,
    candidates: tuple[Candidate, ...],
    *,
    chosen_now: IntArray,
    present_class: IntArray,
    quantiles: tuple[float, ...],
) -> pd.DataFrame:
    """Return one row per demand class (and "all") and method, and the row "chosen".

    Columns: ``windows`` scored, ``loss`` (sum of the pinball losses, averaged over the quantiles, over sum of demand),
    ``chosen_for`` (SKUs that use the method now), and ``coverage_0.95`` and its like: the share of outcomes at or
    below the quantile, randomised because demand is discrete; equal to the probability if calibrated.

    Notes
    -----
    "chosen" is picked at each origin from earlier origins that were over by then, so it is an honest outcome. All
    rows are over the same windows: those where a choice could be made and the method applied. Where no origin has
    enough others behind it the rows are over all origins, and there is no row "chosen".
    """
    names = [f"coverage_{q:g}" for q in quantiles]
    if backtest is None:
        return pd.DataFrame(columns=[*COLUMNS, *names])
    picked = chosen_before(backtest, candidates)
    at = sorted(picked) or list(range(len(backtest.origins)))
    loss, coverage, actual = backtest.loss[at], backtest.coverage[at], backtest.actual[at]
    labels = [c.name for c in candidates]
    if picked:
        choice = np.stack([picked[j] for j in at])[:, None, :]
        loss = np.concatenate([loss, np.take_along_axis(loss, choice, axis=1)], axis=1)
        coverage = np.concatenate([coverage, np.take_along_axis(coverage, choice[..., None], axis=1)], axis=1)
        labels.append("chosen")
    rows = []
    for c, demand_class in [*enumerate(CLASSES), (-1, "all")]:
        is_in = (backtest.demand_class[at] == c) | (c < 0)
        now = chosen_now if c < 0 else chosen_now[present_class == c]
        for m, label in enumerate(labels):
            windows, scaled, covered = _figures(is_in, loss[:, m], coverage[:, m], actual)
            used = now.size if label == "chosen" else int((now == m).sum())
            is_benchmark = label != "chosen" and candidates[m].is_benchmark
            rows.append((demand_class, label, is_benchmark, windows, scaled, used, *covered))
    table = pd.DataFrame(rows, columns=[*COLUMNS, *names])
    return table[table["windows"] > 0].reset_index(drop=True)


def _figures(
    is_in: NDArray[np.bool_], loss: FloatArray, coverage: FloatArray, actual: FloatArray
) -> tuple[int, float, list[float]]:
    """Return windows, scaled loss and coverage of one row."""
    counts = is_in & ~np.isnan(loss)
    windows, demand = int(counts.sum()), float(actual[counts].sum())
    scaled = float(loss[counts].sum()) / demand if demand > 0 else float("nan")
    return windows, scaled, list(coverage[counts].mean(axis=0)) if windows else [float("nan")] * coverage.shape[-1]
