"""Rolling origins: what each method would have said, seen only what was known, and how it came out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import gcd

import numpy as np
from numpy.typing import NDArray

from forecasting.classification import DemandClass
from forecasting.distribution import NegativeBinomial
from forecasting.empirical import EmpiricalDemand, recent_sums
from forecasting.methods.candidates import Candidate, with_a_say
from forecasting.mixture import Mixture
from forecasting.outlook import Outlook, stacked
from forecasting.past import Past, Setting
from forecasting.scores import expected_coverage, pinball_loss
from forecasting.stacking import Windows
from forecasting.states import Levels

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CLASSES = tuple(c.value for c in DemandClass)
MOST_ORIGINS = 16
# All SKUs share the luck of an origin, so that a few origins prove nothing, however many SKUs; a rule of ours.
FEWEST_ORIGINS = 4
FEWEST_PERIODS_BEFORE = 12
ORIGINS_PER_REGRESSION = 4
MOST_HORIZONS = 4
# Weights of a dozen methods are known well from so many windows; more only cost time.
MOST_WINDOWS = 20_000


@dataclass(frozen=True)
class Backtest:
    """Outcome of the rolling origins: j origins, k methods, n SKUs, s horizons, q quantiles.

    Attributes
    ----------
    origins : tuple of int
        Number of periods known at each origin, ascending.
    horizons : ndarray of int, shape (s,)
        Horizons that the weights are learned on.
    mass : ndarray, shape (j, k, n, s)
        Probability that each method gave to what happened; NaN where it did not apply or the end is not known.
    expected : ndarray, shape (j, n, s)
        Mean that the methods expected, their mean.
    demand_class : ndarray of int, shape (j, n)
        Index into ``CLASSES``, as known at the origin.
    actual : ndarray, shape (j, n)
        Demand cumulated over the risk period after the origin; NaN where not known.
    said : tuple of Outlook, one per origin, each (k, n, 1)
        What each method said about the risk period.
    plain : Scores of shape (j, b, n)
        Of the benchmarks, the recent past as it was being the last of them.
    """

    origins: tuple[int, ...]
    horizons: IntArray
    mass: FloatArray
    expected: FloatArray
    demand_class: IntArray
    actual: FloatArray
    said: tuple[Outlook, ...]
    plain: Scores

    def windows_before(self, origin: int) -> Windows:
        """Return the windows that were over when so many periods were known."""
        is_over = (np.array(self.origins)[:, None] + self.horizons <= origin)[:, None, :]
        over = np.flatnonzero(is_over & self._is_known)
        every = max(1, -(-over.size // MOST_WINDOWS))
        j, sku, place = np.unravel_index(over[::every], self.expected.shape)
        # Losses grow with the spread, and that about with the root of the mean: what is at stake in a window.
        count = np.sqrt(self.expected[j, sku, place] + 0.1)
        mass = np.ascontiguousarray(self.mass[j, :, sku, place].T)
        return Windows(mass, self.demand_class[j, sku], count)

    @cached_property
    def _is_known(self) -> NDArray[np.bool_]:
        """Every method gives a mass unless it does not apply; a window is known if any of them does."""
        return np.asarray(~np.isnan(self.mass).all(axis=1))


@dataclass(frozen=True)
class Scores:
    """Scores of what was said about the risk period, leading axes as of what is scored.

    Attributes
    ----------
    loss : ndarray, shape (...)
        Pinball loss averaged over the quantiles; NaN where not scored.
    below, at_most : ndarray, shape (...)
        P(D < y) and P(D <= y) of what happened.
    """

    loss: FloatArray
    below: FloatArray
    at_most: FloatArray

    def at(self, index: _Index) -> Scores:
        """Return the scores at an index of the leading axes."""
        return Scores(self.loss[index], self.below[index], self.at_most[index])

    def coverage(self, probability: tuple[float, ...]) -> FloatArray:
        """Return the chance that the randomised transform is at most each probability, shape (..., q)."""
        return expected_coverage(self.below[..., None], self.at_most[..., None], probability=np.array(probability))


def origins_for(n_periods: int, *, season_length: int) -> tuple[int, ...]:
    """Return up to ``MOST_ORIGINS`` origins over the younger half of the record; none if it is too short for a few.

    The step shares no divisor with the season, so that every weekday is an origin in turn. The last origin has one
    period behind it: long horizons have fewer windows than short ones.
    """
    last = n_periods - 1
    first = max(FEWEST_PERIODS_BEFORE, n_periods // 2)
    if last < first:
        return ()
    step = max(1, -(-(last - first + 1) // MOST_ORIGINS))
    while season_length > 1 and step > 1 and gcd(step, season_length) > 1:
        step -= 1
    origins = sorted(range(last, first - 1, -step)[:MOST_ORIGINS])
    return tuple(origins) if len(origins) >= FEWEST_ORIGINS else ()


def run_backtest(
    setting: Setting,
    *,
    candidates: tuple[Candidate, ...],
    origins: tuple[int, ...],
    horizons: IntArray,
    risk: IntArray,
    quantiles: tuple[float, ...],
) -> Backtest:
    """Ask every method at every origin, and note what it gave to what happened.

    Notes
    -----
    Factors, spread, classes and constants at an origin come from earlier periods only.
    """
    learned_on = _spread_out(horizons)
    seen: list[_AtOrigin] = []
    lender: Past | None = None
    walked: tuple[int, Levels] | None = None
    for j, origin in enumerate(origins):
        past = Past(setting, origin, lender if j % ORIGINS_PER_REGRESSION else None, walked)
        lender, walked = past.prior_from or past, (origin, past.levels)
        seen.append(_at_origin(past, candidates, horizons=learned_on, risk=risk, quantiles=quantiles))
    mass, expected, classes, actual, loss, below, at_most = (
        np.stack(part) for part in zip(*(arrays for arrays, _ in seen), strict=True)
    )
    said = tuple(outlook for _, outlook in seen)
    return Backtest(origins, learned_on, mass, expected, classes, actual, said, Scores(loss, below, at_most))


def class_index(names: NDArray[np.str_]) -> IntArray:
    """Return the place of each class name in ``CLASSES``."""
    return np.asarray((names[:, None] == np.array(CLASSES)).argmax(axis=1), dtype=np.int64)


def scores_of(
    dist: _Distribution, y: FloatArray, *, quantiles: tuple[float, ...], is_scored: NDArray[np.bool_]
) -> Scores:
    """Score distributions against what happened; quantiles broadcast against a new first axis."""
    known = np.where(np.isnan(y), 0.0, y)
    probability = np.array(quantiles).reshape(-1, *(1,) * is_scored.ndim)
    loss = pinball_loss(known, dist.ppf(probability), probability=probability).mean(axis=0)
    parts = (loss, dist.cdf(known - 1.0), dist.cdf(known))
    return Scores(*(np.where(is_scored, part, np.nan) for part in parts))


_Index = tuple[slice | int, ...] | NDArray[np.bool_] | NDArray[np.intp]
_Distribution = NegativeBinomial | EmpiricalDemand | Mixture
_AtOrigin = tuple[tuple[FloatArray | IntArray, ...], Outlook]


def _spread_out(horizons: IntArray) -> IntArray:
    """Return the first and last horizon and up to two between them, evenly in logarithms."""
    wanted = np.geomspace(horizons[0], horizons[-1], MOST_HORIZONS)
    nearest = np.abs(np.log(horizons) - np.log(wanted)[:, None]).argmin(axis=1)
    return np.asarray(horizons[np.unique(nearest)])


def _at_origin(
    past: Past, candidates: tuple[Candidate, ...], *, horizons: IntArray, risk: IntArray, quantiles: tuple[float, ...]
) -> _AtOrigin:
    everything, came = [c.outlook(past) for c in candidates], _came(past)
    said = with_a_say(everything, candidates, past)
    mass, expected = _mass(stacked([one.at(horizons) for one in said]), came[:, horizons - 1])
    actual, of_risk = came[np.arange(risk.size), risk - 1], stacked([one.at_each(risk) for one in said])
    plainly = stacked([one.at_each(risk) for one, c in zip(everything, candidates, strict=True) if c.is_benchmark])
    plain = _plain_scores(past, actual, plainly, risk=risk, quantiles=quantiles)
    classes = class_index(past.demand_class)
    return (mass, expected, classes, actual, plain.loss, plain.below, plain.at_most), of_risk


def _came(past: Past) -> FloatArray:
    """Return what came, cumulated over 1 .. longest periods, shape (n, longest); NaN where not known."""
    window = past.setting.units[:, past.origin : past.origin + past.setting.longest]
    came = np.full((window.shape[0], past.setting.longest), np.nan)
    came[:, : window.shape[1]] = np.cumsum(window, axis=1)
    # A SKU without a record by then is nobody's to forecast.
    came[past.sold.n_known == 0] = np.nan
    return came


def _mass(said: Outlook, came: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the probabilities of what came, (k, n, s), and the mean expected, (n, s)."""
    # Quantities need not be whole, counts are.
    mass = said.pmf(np.rint(np.nan_to_num(came)))
    return np.where(np.isnan(came), np.nan, mass), np.nanmean(said.mean, axis=0)


def _plain_scores(
    past: Past,
    actual: FloatArray,
    said: Outlook,
    *,
    risk: IntArray,
    quantiles: tuple[float, ...],
) -> Scores:
    """Score the benchmarks and, as the last of them, the recent past as it was."""
    is_known = ~np.isnan(actual)
    mean, variance = said.mean[..., 0], said.variance[..., 0]
    dist = NegativeBinomial(np.nan_to_num(mean), np.nan_to_num(variance))
    methods = scores_of(dist, actual, quantiles=quantiles, is_scored=~np.isnan(mean) & is_known)
    sums, applies = recent_sums(past, risk)
    recent = scores_of(EmpiricalDemand(sums), actual, quantiles=quantiles, is_scored=applies & is_known)
    pairs = ((methods.loss, recent.loss), (methods.below, recent.below), (methods.at_most, recent.at_most))
    return Scores(*(np.concatenate([m, r[None]]) for m, r in pairs))
