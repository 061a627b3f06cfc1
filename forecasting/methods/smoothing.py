"""Simple exponential smoothing of whole matrices."""

from __future__ import annotations

from forecasting.methods.croston import check_constant
from forecasting.methods.events import DemandEvents, FloatArray, smoothed_over_periods


def ses_level(events: DemandEvents, *, constant: float) -> FloatArray:
    """Return the last level l_t = l_{t-1} + a (y_t - l_{t-1}), started at the first known value.

    The level is linear in the values, so zeros cost nothing: it is a weighted sum over the demand events.

    Parameters
    ----------
    events : DemandEvents
    constant : float
        Smoothing constant a in (0, 1].

    Returns
    -------
    ndarray of float, shape (n,)
        Units per period; 0 for a SKU that never sold.

    References
    ----------
    Hyndman, R.J. & Athanasopoulos, G., Forecasting: Principles and Practice, OTexts, section on simple exponential
    smoothing.
    """
    check_constant(constant, name="constant")
    return smoothed_over_periods(events, events.units, constant=constant)
