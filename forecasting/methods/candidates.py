"""The methods that compete: each turns what is known at an origin into the mean of cumulated demand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecasting.classification import DemandClass
from forecasting.levels import CONSTANTS
from forecasting.methods.ets import best_states, cumulated_forecast, default_grid, ets_filter, initial_states
from forecasting.past import Past
from forecasting.states import Levels

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Candidate:
    """A method in the competition.

    Attributes
    ----------
    name : str
        Its name in the tables.
    words : str
        What it does, for a planner.
    is_benchmark : bool
        A plain method that anything better has to beat.
    growth : float
        k, the variance of its level as a share of one period's variance, before the backtest corrects it.
    means : callable
        Past -> mean demand cumulated over 1 .. longest periods, shape (n, longest); NaN where it does not apply.
    """

    name: str
    words: str
    is_benchmark: bool
    growth: float
    means: Callable[[Past], FloatArray]
    is_empirical: bool = False
    level_variation: Callable[[Past], FloatArray] | None = None
    """Squared coefficient of variation of the level where the method knows it, beside what ``growth`` adds."""


def candidates_for(*, has_factors: bool) -> tuple[Candidate, ...]:
    """Return all methods, benchmarks first; the plain ones know no factors."""
    plain = tuple(_level(name, words, growth, level, plain=True) for name, words, growth, level in _BENCHMARK_LEVELS)
    own = tuple(_level(name, words, growth, level, plain=False) for name, words, growth, level in _LEVELS)
    # Without factors the benchmarks' own constants are in the race already.
    again = tuple(
        _level(f"{name} factors", words, growth, level, plain=False) for name, words, growth, level in _BENCHMARK_LEVELS
    )
    return (
        Candidate("seasonal naive", "the last season again", True, 0.2, _seasonal_naive_means),
        *plain,
        Candidate("empirical", "the demand of the recent past as it was", True, 0.0, _recent_means, is_empirical=True),
        *own,
        *(again if has_factors else ()),
        Candidate("ets", "state space smoothing, trend and weekday where they pay", False, 0.05, _ets_means),
        Candidate(
            "attributes",
            "sales of its kin, moved by its own",
            False,
            0.02,
            _attribute_means,
            level_variation=_attribute_variation,
        ),
    )


def _level(name: str, words: str, growth: float, level: Callable[[Levels], FloatArray], *, plain: bool) -> Candidate:
    def means(past: Past) -> FloatArray:
        if plain:
            return level(past.levels)[:, None] * np.arange(1.0, past.setting.longest + 1)
        return level(past.levels_without_factors)[:, None] * past.periods_ahead

    return Candidate(name, words, plain, growth, means)


def _steady(constant: float) -> float:
    """Return a / (2 - a), the variance of a smoothed level as a share of one period's variance."""
    return constant / (2.0 - constant)


def _ses(constant: float) -> Callable[[Levels], FloatArray]:
    return lambda levels: levels.ses.now()[:, CONSTANTS.index(constant)]


def _sba(constant: float) -> Callable[[Levels], FloatArray]:
    return lambda levels: levels.sba.now()[:, CONSTANTS.index(constant)]


def _tsb(constant: float) -> Callable[[Levels], FloatArray]:
    return lambda levels: levels.tsb.now()[:, CONSTANTS.index(constant)]


_SES, _SBA, _TSB = (
    "a smoothed level",
    "smoothed size over smoothed interval",
    "smoothed size times smoothed probability",
)

_BENCHMARK_LEVELS: tuple[tuple[str, str, float, Callable[[Levels], FloatArray]], ...] = (
    ("ses 0.1", _SES, _steady(0.1), _ses(0.1)),
    ("sba 0.1", _SBA, _steady(0.1), _sba(0.1)),
)
_LEVELS: tuple[tuple[str, str, float, Callable[[Levels], FloatArray]], ...] = (
    ("ses 0.02", _SES, _steady(0.02), _ses(0.02)),
    ("ses 0.05", _SES, _steady(0.05), _ses(0.05)),
    ("ses 0.2", _SES, _steady(0.2), _ses(0.2)),
    ("sba 0.05", _SBA, _steady(0.05), _sba(0.05)),
    ("sba 0.2", _SBA, _steady(0.2), _sba(0.2)),
    ("tsb 0.02", _TSB, _steady(0.02), _tsb(0.02)),
    ("tsb 0.05", _TSB, _steady(0.05), _tsb(0.05)),
    ("tsb 0.1", _TSB, _steady(0.1), _tsb(0.1)),
)


def _seasonal_naive_means(past: Past) -> FloatArray:
    """Repeat the last season; NaN where the SKU is younger than that."""
    length = min(past.setting.phases.season_length, past.origin)
    season = past.units[:, past.origin - length :]
    return np.cumsum(season[:, np.arange(past.setting.longest) % length], axis=1)


RECENT_PERIODS = 260


def recent_windows(past: Past, *, rows: NDArray[np.intp]) -> FloatArray:
    """Return demand cumulated from each recent start over 1 .. longest periods, shape (rows, longest, starts).

    Every start has all horizons behind it; NaN where a period is unknown.
    """
    recent = past.units[rows, max(0, past.origin - RECENT_PERIODS) :]
    windows = np.lib.stride_tricks.sliding_window_view(recent, past.setting.longest, axis=1)
    return np.asarray(np.cumsum(windows, axis=2).transpose(0, 2, 1))


def recent_sums(past: Past, horizon: IntArray) -> FloatArray:
    """Return each SKU's recent sums over its own horizon from the starts of ``recent_windows``, shape (n, starts)."""
    recent = past.units[:, max(0, past.origin - RECENT_PERIODS) :]
    known = ~np.isnan(recent)
    start = np.arange(max(recent.shape[1] - past.setting.longest + 1, 1))
    first = np.broadcast_to(start, (recent.shape[0], start.size))
    last = np.minimum(first + horizon[:, None], recent.shape[1])
    sums = _between(np.where(known, recent, 0.0), first, last)
    return np.where(_between(known.astype(float), first, last) == horizon[:, None], sums, np.nan)


def _between(values: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """Sum values[first:last] along each row."""
    total = np.concatenate([np.zeros((values.shape[0], 1)), np.cumsum(values, axis=1)], axis=1)
    return np.asarray(np.take_along_axis(total, last, axis=1) - np.take_along_axis(total, first, axis=1))


def _recent_means(past: Past) -> FloatArray:
    recent = past.units[:, max(0, past.origin - RECENT_PERIODS) :]
    known = ~np.isnan(recent)
    count = known.sum(axis=1)
    total = np.where(known, recent, 0.0).sum(axis=1)
    mean = np.divide(total, count, out=np.full(total.shape, np.nan), where=count >= 2 * past.setting.longest)
    return np.asarray(mean[:, None] * np.arange(1.0, past.setting.longest + 1))


def _attribute_means(past: Past) -> FloatArray:
    units, exposure = past.recent_units_and_exposure
    return past.rate_prior.posterior_mean(units=units, exposure=exposure)[:, None] * past.periods_ahead


def _attribute_variation(past: Past) -> FloatArray:
    return past.rate_prior.posterior_variation(units=past.recent_units_and_exposure[0])


def level_variations(past: Past, candidates: tuple[Candidate, ...]) -> FloatArray:
    """Return the squared variation of the level that each method states, shape (m, n); zero where it states none."""
    none = np.zeros(past.setting.units.shape[0])
    return np.stack([none if c.level_variation is None else c.level_variation(past) for c in candidates])


def _ets_means(past: Past) -> FloatArray:
    """Return ETS means for the SKUs that sell in most periods, NaN for the others."""
    is_served = np.isin(past.demand_class, [DemandClass.SMOOTH.value, DemandClass.ERRATIC.value])
    means = np.full((is_served.size, past.setting.longest), np.nan)
    if not is_served.any():
        return means
    phases, units = past.setting.phases, past.units[is_served]
    phase = np.concatenate([phases.past, phases.ahead])
    grid = default_grid(has_season=phases.count > 1)
    start = initial_states(units, grid, n_phases=phases.count)
    after = ets_filter(units, phase=phase, constants=grid, start=start, snapshots=[past.origin])[0]
    states, phi = best_states(after, grid)
    ahead = phase[past.origin : past.origin + past.setting.longest]
    means[is_served] = cumulated_forecast(states, phi=phi, phase_ahead=ahead)
    return means
