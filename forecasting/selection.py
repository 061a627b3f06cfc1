"""The mixture that each class of demand uses, and what it gained on the plain benchmarks.

The benchmarks are among the methods that are mixed: where one of them is best for a class, the weight is its.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecasting.backtest import CLASSES, FEWEST_ORIGINS, Backtest, Scores, scores_of
from forecasting.methods.candidates import Candidate
from forecasting.outlook import mixed
from forecasting.stacking import learned_weights, usable

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# A class with fewer scored windows is judged with all classes together.
FEWEST_WINDOWS = 30


@dataclass(frozen=True)
class Choice:
    """What each class of demand uses from now on.

    Attributes
    ----------
    weight : ndarray, shape (classes, K)
        Weights of the mixture.
    gain_share : ndarray, shape (classes,)
        Share by which the mixture lost less than the best benchmark; NaN where nothing could be compared.
    windows : ndarray of int, shape (classes,)
        Scored windows that this rests on.
    """

    weight: FloatArray
    gain_share: FloatArray
    windows: IntArray


def prior_weights(candidates: tuple[Candidate, ...]) -> FloatArray:
    """Return equal weights for all methods but the plain ones, which have to earn theirs."""
    is_method = np.array([not c.is_benchmark for c in candidates])
    return np.asarray(is_method / is_method.sum())


def honest_scores(backtest: Backtest, *, prior: FloatArray, quantiles: tuple[float, ...]) -> Scores:
    """Return scores (j, n) of the mixture with weights from windows that were over at each origin.

    NaN at origins with fewer than ``FEWEST_ORIGINS`` before them: SKUs share the luck of a single day.
    """
    scored = [_scores_at(backtest, j, prior=prior, quantiles=quantiles) for j in range(len(backtest.origins))]
    return Scores(*(np.stack([getattr(s, part) for s in scored]) for part in ("loss", "below", "at_most")))


def choose(backtest: Backtest | None, honest: Scores | None, *, origin: int, prior: FloatArray) -> Choice:
    """Return the weights of every class and what they proved."""
    n_classes = len(CLASSES)
    if backtest is None or honest is None:
        unproven = np.tile(prior, (n_classes, 1))
        return Choice(unproven, np.full(n_classes, np.nan), np.zeros(n_classes, dtype=np.int64))
    proved = [_proved(backtest, honest, c) for c in range(n_classes)]
    gain, windows = (np.array(part) for part in zip(*proved, strict=True))
    weight = learned_weights(backtest.windows_before(origin), prior=prior, n_classes=n_classes)
    return Choice(weight, gain, windows)


def _scores_at(backtest: Backtest, j: int, *, prior: FloatArray, quantiles: tuple[float, ...]) -> Scores:
    said, actual = backtest.said[j], backtest.actual[j]
    if j < FEWEST_ORIGINS:
        return Scores(*np.full((3, actual.size), np.nan))
    by_class = learned_weights(backtest.windows_before(backtest.origins[j]), prior=prior, n_classes=len(CLASSES))
    kept = usable(by_class[backtest.demand_class[j]].T, applies=said.applies)
    is_scored = ~np.isnan(actual)[:, None]
    column = scores_of(mixed(said, kept), actual[:, None], quantiles=quantiles, is_scored=is_scored)
    return column.at((slice(None), 0))


def _proved(backtest: Backtest, honest: Scores, demand_class: int) -> tuple[float, int]:
    """Return what a class gained on its best benchmark, and the windows behind that."""
    is_scored = ~np.isnan(honest.loss)
    is_in = is_scored & (backtest.demand_class == demand_class)
    if is_in.sum() < FEWEST_WINDOWS:
        is_in = is_scored
    windows, mixed = int(is_in.sum()), honest.loss[is_in]
    # Where nothing was sold, nothing is proved by losing nothing.
    if not windows or not np.any(backtest.actual[is_in] > 0):
        return np.nan, windows
    ratio = [_loss_ratio(mixed, plain) for plain in backtest.plain.loss.transpose(1, 0, 2)[:, is_in]]
    return 1.0 - float(np.nanmax(ratio)), windows


def _loss_ratio(mixed: FloatArray, plain: FloatArray) -> float:
    """Return the loss of the mixture over that of a benchmark, where the benchmark applied and lost anything."""
    applies = ~np.isnan(plain)
    lost = float(plain[applies].sum())
    return float(mixed[applies].sum()) / lost if lost > 0 else np.nan
