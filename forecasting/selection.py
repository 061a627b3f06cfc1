"""Choice of a method per SKU from the rolling origins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecasting.backtest import CLASSES, FEWEST_ORIGINS, Backtest
from forecasting.classification import DemandClass
from forecasting.methods.candidates import Candidate

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# A SKU's own losses count as much as those of its class after so many origins; a rule of ours.
HALF_TRUST_ORIGINS = 60.0
# A class with fewer scored windows is judged with all classes together.
FEWEST_WINDOWS = 30
_UNPROVEN = {
    DemandClass.NEW: "attributes",
    DemandClass.SPARSE: "attributes",
    DemandClass.SMOOTH: "ses 0.05",
    DemandClass.ERRATIC: "ses 0.05",
    DemandClass.INTERMITTENT: "tsb 0.05",
    DemandClass.LUMPY: "tsb 0.05",
}


@dataclass(frozen=True)
class Choice:
    """The method of each SKU.

    Attributes
    ----------
    method : ndarray of int, shape (n,)
        Index into the candidates.
    gain_share : ndarray, shape (n,)
        Share by which the class loses less with it than with the best benchmark; NaN without a backtest.
    windows : ndarray of int, shape (n,)
        Scored windows that the choice rests on, pooled over the class.
    is_class_wide : ndarray of bool, shape (n,)
        True where a benchmark won the whole class, or nothing was compared.
    """

    method: IntArray
    gain_share: FloatArray
    windows: IntArray
    is_class_wide: NDArray[np.bool_]


def choose(
    loss: FloatArray,
    *,
    past_class: IntArray,
    present_class: IntArray,
    candidates: tuple[Candidate, ...],
    is_possible: NDArray[np.bool_],
) -> Choice:
    """Choose per SKU by the loss of its class and its own, pooled.

    Parameters
    ----------
    loss : ndarray, shape (j, m, n)
        Losses of the origins that may be looked at; NaN where not scored.
    past_class : ndarray of int, shape (j, n)
        Class at each origin. present_class : ndarray of int, shape (n,).
    is_possible : ndarray of bool, shape (m, n)
        Whether the method can forecast the SKU now.

    Notes
    -----
    If a benchmark is the best of a class, the class uses it. Otherwise each SKU takes the method with the least
    w own + (1 - w) class, both as shares of the mean loss over methods, w = origins / (origins + 60). A method that
    does not apply at an origin is given the mean loss there: no advantage, no harm.
    """
    by_class, windows, own, n_origins = _relative_losses(loss, past_class)
    trust = n_origins / (n_origins + HALF_TRUST_ORIGINS)
    pooled = trust * own + (1.0 - trust) * by_class[present_class].T
    best_of_all = by_class.argmin(axis=1)[present_class]
    is_benchmark = np.array([c.is_benchmark for c in candidates])
    is_class_wide = is_benchmark[best_of_all] & is_possible[best_of_all, np.arange(present_class.size)]
    method = np.where(is_class_wide, best_of_all, np.where(is_possible, pooled, np.inf).argmin(axis=0))
    is_unproven = windows[present_class] == 0
    method = np.where(is_unproven, _unproven_methods(candidates)[present_class], method)
    benchmark_loss = np.where(is_benchmark, by_class, np.inf).min(axis=1)[present_class]
    # A class that never sold: a benchmark that says nothing loses nothing, and nothing can gain on it.
    can_gain = ~is_unproven & (benchmark_loss > 0)
    lost = by_class[present_class, method]
    gain = 1.0 - np.divide(lost, benchmark_loss, out=np.ones(lost.shape), where=can_gain)
    return Choice(method, np.where(is_unproven, np.nan, gain), windows[present_class], is_class_wide & ~is_unproven)


def choose_unproven(candidates: tuple[Candidate, ...], *, present_class: IntArray) -> Choice:
    """Choose by the class alone, where the record is too short for a single rolling origin."""
    n = present_class.size
    method = _unproven_methods(candidates)[present_class]
    return Choice(method, np.full(n, np.nan), np.zeros(n, dtype=np.int64), np.zeros(n, dtype=bool))


def _unproven_methods(candidates: tuple[Candidate, ...]) -> IntArray:
    names = [c.name for c in candidates]
    return np.array([names.index(_UNPROVEN[DemandClass(c)]) for c in CLASSES], dtype=np.int64)


def _relative_losses(loss: FloatArray, past_class: IntArray) -> tuple[FloatArray, IntArray, FloatArray, IntArray]:
    """Return losses over the mean loss of all methods: by class (c, m), windows (c,); own (m, n) and origins (n,)."""
    filled, scale = _comparable(loss)
    total, weight, windows = _class_sums(filled, scale, past_class)
    thin = windows < FEWEST_WINDOWS
    total[thin], weight[thin], windows[thin] = total.sum(axis=0), weight.sum(), windows.sum()
    own_scale = scale.sum(axis=0)
    own = np.divide(filled.sum(axis=0), own_scale, out=np.ones(filled.shape[1:]), where=own_scale > 0)
    by_class = np.divide(total, weight[:, None], out=np.ones(total.shape), where=weight[:, None] > 0)
    return by_class, windows, own, (scale > 0).sum(axis=0)


def _comparable(loss: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fill the gaps of a method with the mean over methods; return that and the mean (zero where unscored)."""
    is_scored = ~np.isnan(loss)
    count = is_scored.sum(axis=1)
    mean = np.where(is_scored, loss, 0.0).sum(axis=1) / np.maximum(count, 1)
    return np.where(is_scored, loss, mean[:, None, :]), mean


def _class_sums(filled: FloatArray, scale: FloatArray, past_class: IntArray) -> tuple[FloatArray, FloatArray, IntArray]:
    total, weight = np.zeros((len(CLASSES), filled.shape[1])), np.zeros(len(CLASSES))
    windows = np.zeros(len(CLASSES), dtype=np.int64)
    for c in range(len(CLASSES)):
        is_in = past_class == c
        total[c] = np.where(is_in[:, None, :], filled, 0.0).sum(axis=(0, 2))
        weight[c], windows[c] = scale[is_in].sum(), (scale[is_in] > 0).sum()
    return total, weight, windows


def chosen_before(backtest: Backtest, candidates: tuple[Candidate, ...]) -> dict[int, IntArray]:
    """Return the method that would have been chosen at each origin from the earlier origins known by then.

    Origins with fewer than ``FEWEST_ORIGINS`` behind them are left out: SKUs share the luck of a single day.
    """
    chosen = {}
    for j, n_done in enumerate(backtest.usable_before):
        if n_done >= FEWEST_ORIGINS:
            is_possible = ~np.isnan(backtest.mean[j]) | np.isnan(backtest.actual[j])
            chosen[j] = choose(
                backtest.loss[:n_done],
                past_class=backtest.demand_class[:n_done],
                present_class=backtest.demand_class[j],
                candidates=candidates,
                is_possible=is_possible,
            ).method
    return chosen
