"""The vectorised state space recursion against statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.tsa.exponential_smoothing.ets import ETSModel

from forecasting.errors import ParameterError
from forecasting.methods.ets import (
    EtsConstants,
    EtsStates,
    best_states,
    cumulated_forecast,
    default_grid,
    ets_filter,
    initial_states,
)

STEPS = 6


@pytest.fixture(scope="module")
def smooth() -> np.ndarray:
    rng = np.random.default_rng(3)
    season = np.array([6.0, -2.0, -1.0, -3.0])
    return 30.0 + 0.1 * np.arange(80) + season[np.arange(80) % 4] + rng.normal(0.0, 2.0, size=(3, 80))


def _constants(alpha: float, beta: float, gamma: float, phi: float) -> EtsConstants:
    return EtsConstants(*(np.array([c]) for c in (alpha, beta, gamma, phi)))


def _ours(units: np.ndarray, constants: EtsConstants, season: np.ndarray, *, trend: float) -> np.ndarray:
    n, m = units.shape[0], season.size
    start = EtsStates(
        np.full((1, n), 29.0), np.full((1, n), trend), np.tile(season[:, None, None], (1, 1, n)), np.zeros((1, n))
    )
    phase = np.arange(units.shape[1] + STEPS) % m
    (after,) = ets_filter(units, phase=phase, constants=constants, start=start, snapshots=[units.shape[1]])
    states, phi = best_states(after, constants)
    return cumulated_forecast(states, phi=phi, phase_ahead=phase[-STEPS:])


def _statsmodels(row: np.ndarray, params: list[float], **kind: object) -> np.ndarray:
    model = ETSModel(row, error="add", initialization_method="known", initial_level=29.0, **kind)
    return np.cumsum(model.smooth(params).forecast(STEPS))


def test_level_only_equals_statsmodels(smooth: np.ndarray) -> None:
    ours = _ours(smooth, _constants(0.3, 0.0, 0.0, 1.0), np.zeros(1), trend=0.0)
    expected = [_statsmodels(row, [0.3]) for row in smooth]
    np.testing.assert_allclose(ours, expected, rtol=1e-9)


def test_damped_trend_equals_statsmodels(smooth: np.ndarray) -> None:
    ours = _ours(smooth, _constants(0.3, 0.05, 0.0, 0.95), np.zeros(1), trend=0.2)
    kind = {"trend": "add", "damped_trend": True, "initial_trend": 0.2}
    expected = [_statsmodels(row, [0.3, 0.05, 0.95], **kind) for row in smooth]
    np.testing.assert_allclose(ours, expected, rtol=1e-9)


def test_season_equals_statsmodels(smooth: np.ndarray) -> None:
    season = np.array([5.0, -1.0, -1.0, -3.0])
    ours = _ours(smooth, _constants(0.3, 0.0, 0.1, 1.0), season, trend=0.0)
    kind = {"seasonal": "add", "seasonal_periods": 4, "initial_seasonal": season}
    expected = [_statsmodels(row, [0.3, 0.1], **kind) for row in smooth]
    np.testing.assert_allclose(ours, expected, rtol=1e-9)


def test_snapshot_does_not_see_later_periods(smooth: np.ndarray) -> None:
    grid = default_grid(has_season=True)
    start, phase = initial_states(smooth, grid, n_phases=4), np.arange(80) % 4
    changed = smooth.copy()
    changed[:, 50:] *= 3.0
    first, _ = ets_filter(smooth, phase=phase, constants=grid, start=start, snapshots=[50, 80])
    again, last = ets_filter(changed, phase=phase, constants=grid, start=start, snapshots=[50, 80])
    np.testing.assert_array_equal(first.level, again.level)
    np.testing.assert_array_equal(first.season, again.season)
    assert not np.array_equal(again.level, last.level)


def test_states_stand_still_when_a_period_is_unknown(smooth: np.ndarray) -> None:
    with_gap = np.insert(smooth, 40, np.full((7, 1), np.nan), axis=1)
    constants = _constants(0.3, 0.0, 0.0, 1.0)
    np.testing.assert_allclose(
        _ours(with_gap, constants, np.zeros(1), trend=0.0), _ours(smooth, constants, np.zeros(1), trend=0.0)
    )


def test_grid_finds_the_level_when_demand_is_constant() -> None:
    grid = default_grid(has_season=False)
    units = np.full((2, 60), 7.0)
    start = initial_states(units, grid, n_phases=1)
    (after,) = ets_filter(units, phase=np.zeros(60, int), constants=grid, start=start, snapshots=[60])
    states, phi = best_states(after, grid)
    means = cumulated_forecast(states, phi=phi, phase_ahead=np.zeros(3, int))
    np.testing.assert_allclose(means, [[7.0, 14.0, 21.0]] * 2)


def test_constants_are_refused_when_outside_the_admissible_region() -> None:
    with pytest.raises(ParameterError, match="beta <= alpha"):
        _constants(0.1, 0.2, 0.0, 1.0)
