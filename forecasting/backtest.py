"""Rolling origins: what each method would have said, seen only what was known, and how it came out."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd

import numpy as np
from numpy.typing import NDArray

from forecasting.classification import DemandClass
from forecasting.distribution import NegativeBinomial
from forecasting.empirical import EmpiricalDemand
from forecasting.methods.candidates import Candidate, level_variations, recent_sums
from forecasting.past import Past, Setting
from forecasting.scores import expected_coverage, pinball_loss
from forecasting.spread import cumulated_variance

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CLASSES = tuple(c.value for c in DemandClass)
MOST_ORIGINS = 16
# All SKUs share the luck of an origin, so that a few origins prove nothing, however many SKUs; a rule of ours.
FEWEST_ORIGINS = 4
FEWEST_PERIODS_BEFORE = 20
ORIGINS_PER_REGRESSION = 4
# The growth constant of theory counts like so many observed windows; a rule of ours.
PRIOR_WINDOWS = 30.0


@dataclass(frozen=True)
class Backtest:
    """Outcome of the rolling origins: j origins, m methods, n SKUs, q quantiles.

    Attributes
    ----------
    origins : tuple of int
        Number of periods known at each origin, ascending.
    actual : ndarray, shape (j, n)
        Demand cumulated over the risk period after the origin; NaN where not known.
    mean, loss : ndarray, shape (j, m, n)
        Forecast mean, and pinball loss averaged over the quantiles; NaN where a method does not apply.
    coverage : ndarray, shape (j, m, n, q)
        Chance that the randomised transform is at most each probability.
    demand_class : ndarray of int, shape (j, n)
        Index into ``CLASSES``, as known at the origin.
    excess, exposure : ndarray, shape (j, classes, m)
        Sums from which the growth of variance is estimated.
    usable_before : tuple of int
        How many of the earlier origins were already known in full at each origin.
    """

    origins: tuple[int, ...]
    actual: FloatArray
    mean: FloatArray
    loss: FloatArray
    coverage: FloatArray
    demand_class: IntArray
    excess: FloatArray
    exposure: FloatArray
    usable_before: tuple[int, ...]


def origins_for(n_periods: int, *, longest_risk: int, season_length: int) -> tuple[int, ...]:
    """Return up to ``MOST_ORIGINS`` origins over the younger half of the record; none if it is too short for a few.

    The step shares no divisor with the season, so that every weekday is an origin in turn.
    """
    last = n_periods - longest_risk
    first = max(FEWEST_PERIODS_BEFORE, n_periods // 2)
    if last < first:
        return ()
    step = max(1, (last - first) // MOST_ORIGINS)
    while season_length > 1 and step > 1 and gcd(step, season_length) > 1:
        step -= 1
    origins = sorted(range(last, first - 1, -step)[:MOST_ORIGINS])
    return tuple(origins) if len(origins) >= FEWEST_ORIGINS else ()


def run_backtest(
    setting: Setting,
    *,
    candidates: tuple[Candidate, ...],
    origins: tuple[int, ...],
    risk: IntArray,
    quantiles: tuple[float, ...],
) -> Backtest:
    """Forecast from every origin with every method and score the demand of each SKU's risk period.

    Notes
    -----
    Factors, spread, classes, constants and the growth of variance at an origin come from earlier periods only; the
    growth from those earlier origins whose longest risk period was over.
    """
    longest_risk = int(risk.max())
    seen: list[tuple[FloatArray, ...]] = []
    usable: list[int] = []
    past: Past | None = None
    for origin in origins:
        n_done = sum(o + longest_risk <= origin for o in origins)
        growth = _growth(candidates, [s[-2] for s in seen[:n_done]], [s[-1] for s in seen[:n_done]])
        lender = past if usable and len(usable) % ORIGINS_PER_REGRESSION else None
        past = Past(setting, origin, lender if lender is None or lender.prior_from is None else lender.prior_from)
        seen.append(_one_origin(past, candidates, growth, risk, quantiles))
        usable.append(n_done)
    actual, mean, loss, coverage, classes, excess, exposure = (np.stack(part) for part in zip(*seen, strict=True))
    return Backtest(origins, actual, mean, loss, coverage, classes.astype(np.int64), excess, exposure, tuple(usable))


def growth_now(backtest: Backtest | None, candidates: tuple[Candidate, ...]) -> FloatArray:
    """Return k per class and method from all origins; the theory's k without a backtest."""
    if backtest is None:
        return _growth(candidates, [], [])
    return _growth(candidates, list(backtest.excess), list(backtest.exposure))


def _growth(candidates: tuple[Candidate, ...], excess: list[FloatArray], exposure: list[FloatArray]) -> FloatArray:
    """Return k = (sum of excess + prior) / (sum of exposure + prior weight), >= 0, shape (classes, m).

    A window of G periods has E[e^2 / (G s2)] = 1 + k G: its excess over 1 estimates k G.
    """
    theory = np.array([c.growth for c in candidates])
    shape = (len(CLASSES), theory.size)
    total = np.sum(excess, axis=0) if excess else np.zeros(shape)
    weight = np.sum(exposure, axis=0) if exposure else np.zeros(shape)
    return np.maximum((total + PRIOR_WINDOWS * theory) / (weight + PRIOR_WINDOWS), 0.0)


def class_index(names: NDArray[np.str_]) -> IntArray:
    """Return the place of each class name in ``CLASSES``."""
    return np.asarray((names[:, None] == np.array(CLASSES)).argmax(axis=1), dtype=np.int64)


def _one_origin(
    past: Past, candidates: tuple[Candidate, ...], growth: FloatArray, risk: IntArray, quantiles: tuple[float, ...]
) -> tuple[FloatArray, ...]:
    rows = np.arange(risk.size)
    window = past.setting.units[:, past.origin : past.origin + int(risk.max())]
    had_record = ~np.all(np.isnan(past.units), axis=1)
    actual = np.where(had_record, np.cumsum(window, axis=1)[rows, risk - 1], np.nan)
    periods = past.periods_ahead[rows, risk - 1]
    mean = np.stack([c.means(past)[rows, risk - 1] for c in candidates])
    classes = class_index(past.demand_class)
    is_scored = ~np.isnan(mean) & ~np.isnan(actual)
    expected = np.where(is_scored, mean, 0.0)
    spread, stated = past.spread_at(expected / periods), level_variations(past, candidates) * expected**2
    variance = cumulated_variance(one_period=spread, periods=periods, level_growth=growth.T[:, classes]) + stated
    dist = NegativeBinomial(expected, variance)
    is_empirical = np.array([c.is_empirical for c in candidates])
    sums = recent_sums(past, risk)
    recent = EmpiricalDemand(np.where(np.all(np.isnan(sums), axis=1)[:, None], 0.0, sums))
    loss, coverage = _scores(dist, np.nan_to_num(actual), recent, is_empirical, np.asarray(quantiles))
    loss[~is_scored], coverage[~is_scored] = np.nan, np.nan
    excess, exposure = _growth_sums(mean, actual, spread=spread, stated=stated, periods=periods, classes=classes)
    return actual, mean, loss, coverage, classes.astype(float), excess, exposure


def _scores(
    dist: NegativeBinomial,
    y: FloatArray,
    recent: EmpiricalDemand,
    is_empirical: NDArray[np.bool_],
    probability: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return mean pinball loss (m, n) and expected coverage (m, n, q); the empirical method has its own quantiles."""
    points = dist.ppf(probability[:, None, None])
    below, at_most = dist.cdf(y - 1.0), dist.cdf(y)
    points[:, is_empirical] = recent.ppf(probability[:, None])[:, None]
    below[is_empirical], at_most[is_empirical] = recent.cdf(y - 1.0), recent.cdf(y)
    loss = pinball_loss(y, points, probability=probability[:, None, None]).mean(axis=0)
    return loss, expected_coverage(below[..., None], at_most[..., None], probability=probability)


def _growth_sums(
    mean: FloatArray,
    actual: FloatArray,
    *,
    spread: FloatArray,
    stated: FloatArray,
    periods: FloatArray,
    classes: IntArray,
) -> tuple[FloatArray, FloatArray]:
    """Return the sums over each class of the excess over h s2 and the stated level variance, and of the exposure."""
    counts = ~np.isnan(mean) & ~np.isnan(actual) & (spread > 0)
    scale = np.where(counts, spread * periods, 1.0)
    excess = np.where(counts, ((actual - mean) ** 2 - stated) / scale - 1.0, 0.0)
    exposure = np.where(counts, periods, 0.0)
    member = (np.arange(len(CLASSES))[:, None] == classes).astype(float)
    return member @ excess.T, member @ exposure.T
