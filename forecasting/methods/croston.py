"""Croston's method with the correction of Syntetos and Boylan (SBA)."""

from __future__ import annotations

import numpy as np

from forecasting.errors import ParameterError
from forecasting.methods.events import DemandEvents, FloatArray, smoothed_over_events


def check_constant(constant: float, *, name: str) -> None:
    """Raise ParameterError unless 0 < constant <= 1."""
    if not 0.0 < constant <= 1.0:
        raise ParameterError(f"{name} must be in (0, 1]; got {constant}")


def sba_level(events: DemandEvents, *, constant: float) -> FloatArray:
    """Return the demand per period by the Syntetos-Boylan approximation.

    (1 - a / 2) z / p, with z the smoothed size and p the smoothed interval between demands, both started at their
    first value; the first interval runs from the start of the record.

    Parameters
    ----------
    events : DemandEvents
    constant : float
        Smoothing constant a of sizes and intervals, in (0, 1].

    Returns
    -------
    ndarray of float, shape (n,)
        Units per period; 0 for a SKU that never sold.

    References
    ----------
    Syntetos, A.A. & Boylan, J.E. (2005), The accuracy of intermittent demand estimates, International Journal of
    Forecasting 21(2), 303-314.
    Croston, J.D. (1972), Forecasting and stock control for intermittent demands, Operational Research Quarterly
    23(3), 289-303.
    """
    check_constant(constant, name="constant")
    size, interval = smoothed_over_events(events, events.units, _intervals(events), constant=constant)
    return np.divide((1.0 - constant / 2.0) * size, interval, out=np.zeros_like(size), where=interval > 0)


def _intervals(events: DemandEvents) -> FloatArray:
    """Return the periods since the previous event of the SKU, or since the start of its record."""
    intervals = np.diff(events.position, prepend=0).astype(float)
    intervals[events.first] = events.position[events.first]
    return intervals
