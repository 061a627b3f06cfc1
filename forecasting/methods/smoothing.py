"""Simple exponential smoothing of whole matrices."""

from __future__ import annotations

from forecasting.methods.croston import check_constant
from forecasting.methods.events import DemandEvents, FloatArray, smoothing_weights, weighted_sum


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
    lag = events.n_known[events.sku] - events.position
    weights = smoothing_weights(constant, int(events.n_known.max(initial=0)))[lag]
    weights[events.position == 1] /= constant
    return weighted_sum(events, weights * events.units)
