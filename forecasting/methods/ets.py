"""Exponential smoothing in state space form with additive errors, for all SKUs and a grid of constants at once.

    forecast  f_t = l + phi b + s[p],   error e_t = y_t - f_t
    level     l <- l + phi b + alpha e_t
    trend     b <- phi b + beta e_t
    season    s[p] <- s[p] + gamma e_t,   p the phase of period t (a weekday, or the place in the season)

ETS(A,N,N) is beta = gamma = 0; ETS(A,Ad,N) gamma = 0; ETS(A,N,A) beta = 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Records shorter than this give no initial level worth the name; a rule of ours.
INITIAL_PERIODS = 10


@dataclass(frozen=True)
class EtsConstants:
    """One set of constants per row of the grid, each of shape (g,).

    Raises
    ------
    ParameterError
        Unless 0 <= beta <= alpha <= 1, 0 <= gamma <= 1 - alpha and 0 < phi <= 1.
    """

    alpha: FloatArray
    beta: FloatArray
    gamma: FloatArray
    phi: FloatArray

    def __post_init__(self) -> None:
        is_fine = (self.beta >= 0) & (self.beta <= self.alpha) & (self.alpha <= 1) & (self.phi > 0) & (self.phi <= 1)
        is_fine &= (self.gamma >= 0) & (self.gamma <= 1 - self.alpha)
        if not np.all(is_fine):
            raise ParameterError("need 0 <= beta <= alpha <= 1, 0 <= gamma <= 1 - alpha and 0 < phi <= 1")


@dataclass(frozen=True)
class EtsStates:
    """States after the last period: level and trend (g, n), season (phases, g, n), mean squared error (g, n)."""

    level: FloatArray
    trend: FloatArray
    season: FloatArray
    squared_error: FloatArray


def default_grid(*, has_season: bool) -> EtsConstants:
    """Return the grid that the choice of constants searches: with and without damped trend and season."""
    alphas, betas, gammas = (0.02, 0.05, 0.1, 0.2, 0.4), (0.0, 0.01), (0.0, 0.05) if has_season else (0.0,)
    rows = np.array([(a, b, g, 0.95 if b else 1.0) for a, b, g in product(alphas, betas, gammas)])
    return EtsConstants(*rows.T)


def initial_states(units: FloatArray, constants: EtsConstants, *, n_phases: int) -> EtsStates:
    """Start every series at the mean of its first known periods, without trend or season."""
    known = ~np.isnan(units)
    is_early = known & (np.cumsum(known, axis=1) <= INITIAL_PERIODS)
    count = np.maximum(is_early.sum(axis=1), 1)
    level = np.where(is_early, units, 0.0).sum(axis=1) / count
    shape = (constants.alpha.size, units.shape[0])
    return EtsStates(
        np.broadcast_to(level, shape).copy(), np.zeros(shape), np.zeros((n_phases, *shape)), np.zeros(shape)
    )


def ets_filter(
    units: FloatArray,
    *,
    phase: IntArray,
    constants: EtsConstants,
    start: EtsStates,
    snapshots: Sequence[int],
) -> list[EtsStates]:
    """Run the recursion over time, vectorised over constants and SKUs.

    Parameters
    ----------
    units : ndarray, shape (n, T)
        Demand; an unknown period (NaN) leaves the states where the forecast puts them.
    phase : ndarray of int, shape (T,)
        Phase of each period, an index into the season states.
    constants, start
        Grid of g sets of constants, and the states before the first period.
    snapshots : sequence of int, ascending
        The states after so many periods are returned; each sees nothing later.

    References
    ----------
    Hyndman, R.J., Koehler, A.B., Ord, J.K. & Snyder, R.D. (2008), Forecasting with Exponential Smoothing, Springer,
    table 2.2 (additive errors; from memory).
    """
    alpha, beta, gamma, phi = (c[:, None] for c in (constants.alpha, constants.beta, constants.gamma, constants.phi))
    level, trend, season, total = start.level, start.trend, start.season.copy(), np.zeros_like(start.level)
    known = np.zeros(units.shape[0])
    taken: list[EtsStates] = []
    by_time = np.ascontiguousarray(units.T)
    wanted = set(snapshots)
    for t in range(max(snapshots) + 1):
        if t in wanted:
            taken.append(EtsStates(level, trend, season.copy(), total / np.maximum(known, 1.0)))
        if t == max(snapshots):
            break
        base = level + phi * trend
        error = by_time[t] - base - season[phase[t]]
        is_known = ~np.isnan(by_time[t])
        error = np.where(is_known, error, 0.0)
        level, trend = base + alpha * error, phi * trend + beta * error
        season[phase[t]] += gamma * error
        total = total + error * error
        known += is_known
    return taken


def best_states(states: EtsStates, constants: EtsConstants) -> tuple[EtsStates, FloatArray]:
    """Keep for each SKU the constants with the least squared error so far; return states (1, n) and phi (n,)."""
    best = np.argmin(states.squared_error, axis=0)[None, :]
    chosen = EtsStates(
        np.take_along_axis(states.level, best, axis=0),
        np.take_along_axis(states.trend, best, axis=0),
        np.take_along_axis(states.season, best[None], axis=1),
        np.take_along_axis(states.squared_error, best, axis=0),
    )
    return chosen, constants.phi[best[0]]


def cumulated_forecast(states: EtsStates, *, phi: FloatArray, phase_ahead: IntArray) -> FloatArray:
    """Return the mean of the demand cumulated over 1 .. H periods, shape (n, H); a negative period counts as zero."""
    steps = np.arange(1, phase_ahead.size + 1)
    damping = np.cumsum(phi[:, None] ** steps, axis=1)
    by_period = states.level[0][:, None] + states.trend[0][:, None] * damping + states.season[phase_ahead, 0].T
    return np.cumsum(np.maximum(by_period, 0.0), axis=1)
