"""Exponential smoothing in state space form with known factors, for all SKUs and several sets of constants at once.

    forecast  y_t ~ f_t (l + phi b),   error e_t = y_t - f_t (l + phi b),   step s_t = e_t / max(f_t, 1)
    level     l <- l + phi b + alpha s_t
    trend     b <- phi b + beta s_t

f_t is the factor of the period (weekday, season, event); a period of small factor says little and moves little. With
f = 1 and beta = 0 this is ETS(A,N,N), else ETS(A,Ad,N). The level starts as the mean of the record so far, until
alpha is more than the weight that a mean gives to its last value: short records do not hang on their first period.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class EtsConstants:
    """One set of constants per row, each of shape (g,).

    Raises
    ------
    ParameterError
        Unless 0 <= beta <= alpha <= 1 and 0 < phi <= 1.
    """

    alpha: FloatArray
    beta: FloatArray
    phi: FloatArray

    def __post_init__(self) -> None:
        is_fine = (self.beta >= 0) & (self.beta <= self.alpha) & (self.alpha <= 1) & (self.phi > 0) & (self.phi <= 1)
        if not np.all(is_fine):
            raise ParameterError("need 0 <= beta <= alpha <= 1 and 0 < phi <= 1")

    def as_tuples(self) -> tuple[tuple[float, ...], ...]:
        """Return alpha, beta and phi as the compiled recursion takes them: of known length."""
        return tuple(tuple(part.tolist()) for part in (self.alpha, self.beta, self.phi))


# Plain levels from nearly standing to fast, and one damped trend.
SMOOTHING = EtsConstants(
    alpha=np.array([0.02, 0.05, 0.1, 0.2, 0.4, 0.2]),
    beta=np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.03]),
    phi=np.array([1.0, 1.0, 1.0, 1.0, 1.0, 0.95]),
)


@dataclass(frozen=True)
class EtsStates:
    """States after the last period, each (g, n): level, trend, and the mean of e^2 / f (NaN for a short record)."""

    level: FloatArray
    trend: FloatArray
    squared_error: FloatArray


def ets_states(units: FloatArray, *, factors: FloatArray, constants: EtsConstants) -> EtsStates:
    """Run the recursion.

    Parameters
    ----------
    units : ndarray, shape (n, T)
        Demand; an unknown period (NaN) leaves the states where the forecast puts them.
    factors : ndarray, shape (n, T)
        Known factor of each period, > 0.
    constants : EtsConstants

    References
    ----------
    Hyndman, R.J., Koehler, A.B., Ord, J.K. & Snyder, R.D. (2008), Forecasting with Exponential Smoothing, Springer,
    table 2.2 (additive errors; from memory).
    """
    from forecasting.compiled.ets import filter_states  # noqa: PLC0415 - numba is loaded when first needed

    states = filter_states(units, factors, *constants.as_tuples())
    return EtsStates(*(np.ascontiguousarray(state.T) for state in states))


def cumulated_forecast(level: FloatArray, trend: FloatArray, *, phi: float, factors_ahead: FloatArray) -> FloatArray:
    """Return the mean of the demand cumulated over 1 .. H periods, shape (n, H); a negative period counts as zero."""
    damping = np.cumsum(phi ** np.arange(1, factors_ahead.shape[1] + 1))
    by_period = factors_ahead * np.maximum(level[:, None] + trend[:, None] * damping, 0.0)
    return np.asarray(np.cumsum(by_period, axis=1))
