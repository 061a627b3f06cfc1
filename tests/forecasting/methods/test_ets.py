"""The recursion against statsmodels and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.tsa.exponential_smoothing.ets import ETSModel

from forecasting.errors import ParameterError
from forecasting.methods.ets import SMOOTHING, EtsConstants, EtsStates, cumulated_forecast, ets_states

STEPS = 6


@pytest.fixture(scope="module")
def smooth() -> np.ndarray:
    rng = np.random.default_rng(3)
    return 30.0 + 0.1 * np.arange(80) + rng.normal(0.0, 2.0, size=(3, 80))


def _constants(alpha: float, beta: float = 0.0, phi: float = 1.0) -> EtsConstants:
    return EtsConstants(*(np.array([c]) for c in (alpha, beta, phi)))


def _states(units: np.ndarray, constants: EtsConstants, factors: np.ndarray | None = None) -> EtsStates:
    return ets_states(units, factors=np.ones_like(units) if factors is None else factors, constants=constants)


def test_level_equals_statsmodels_after_the_mean_of_the_first_periods(smooth: np.ndarray) -> None:
    # With alpha 0.25 the level is the mean of the first four periods; from there on it is plain smoothing.
    ours = _states(smooth, _constants(0.25)).level[0]
    kind = {"error": "add", "initialization_method": "known"}
    theirs = [ETSModel(y[4:], initial_level=y[:4].mean(), **kind).smooth([0.25]).forecast(1)[0] for y in smooth]
    np.testing.assert_allclose(ours, theirs, rtol=1e-9)


def test_damped_trend_equals_statsmodels_after_the_first_periods(smooth: np.ndarray) -> None:
    # With alpha 0.2 the level is the mean of five periods, and the trend is learned from the sixth on.
    constants = _constants(0.2, 0.05, 0.95)
    states, phi = _states(smooth, constants), float(constants.phi[0])
    ours = cumulated_forecast(states.level[0], states.trend[0], phi=phi, factors_ahead=np.ones((3, STEPS)))
    kind = {"error": "add", "trend": "add", "damped_trend": True, "initialization_method": "known"}
    theirs = [
        np.cumsum(
            ETSModel(y[5:], initial_level=y[:5].mean(), initial_trend=0.0, **kind)
            .smooth([0.2, 0.05, 0.95])
            .forecast(STEPS)
        )
        for y in smooth
    ]
    np.testing.assert_allclose(ours, theirs, rtol=1e-9)


def test_squared_error_is_that_of_one_step_by_hand() -> None:
    # Mean so far 2 through five periods; then errors 4 and, from a level of 2 + 0.5 x 4 = 4, 4 again.
    states = _states(np.array([[2.0, 2.0, 2.0, 2.0, 2.0, 6.0, 8.0]]), _constants(0.5))
    assert states.squared_error[0, 0] == pytest.approx(16.0)
    assert states.level[0, 0] == pytest.approx(6.0)


def test_level_is_of_a_period_of_factor_one_when_factors_are_known() -> None:
    factors = np.tile([1.8, 0.2], 40)[None, :]
    states = _states(5.0 * factors, SMOOTHING, factors)
    np.testing.assert_allclose(states.level, 5.0)
    np.testing.assert_allclose(states.squared_error, 0.0, atol=1e-20)


def test_period_of_small_factor_moves_the_level_little() -> None:
    units, factors = np.full((1, 60), 5.0), np.ones((1, 60))
    factors[0, -1], units[0, -1] = 0.05, 1.25  # 25 times its factor
    # By hand: step 1.25 - 0.05 x 5 = 1, times alpha.
    assert _states(units, _constants(0.4), factors).level[0, 0] == pytest.approx(5.4)


def test_states_stand_still_when_a_period_is_unknown(smooth: np.ndarray) -> None:
    with_gap = np.insert(smooth, 40, np.full((7, 1), np.nan), axis=1)
    np.testing.assert_allclose(_states(with_gap, _constants(0.3)).level, _states(smooth, _constants(0.3)).level)


def test_spread_is_unknown_when_the_record_is_short() -> None:
    assert np.isnan(_states(np.ones((1, 5)), _constants(0.3)).squared_error[0, 0])


def test_negative_period_of_a_falling_trend_counts_as_zero() -> None:
    means = cumulated_forecast(np.array([2.0]), np.array([-1.0]), phi=1.0, factors_ahead=np.ones((1, 4)))
    np.testing.assert_allclose(means, [[1.0, 1.0, 1.0, 1.0]])


def test_constants_are_refused_when_outside_the_admissible_region() -> None:
    with pytest.raises(ParameterError, match="beta <= alpha"):
        _constants(0.1, 0.2)
