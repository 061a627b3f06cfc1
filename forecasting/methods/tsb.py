"""The method of Teunter, Syntetos and Babai: probability and size of demand smoothed apart."""

from __future__ import annotations

import numpy as np

from forecasting.methods.croston import check_constant
from forecasting.methods.events import (
    DemandEvents,
    FloatArray,
    smoothed_over_events,
    smoothed_over_periods,
)


def tsb_level(events: DemandEvents, *, size_constant: float, probability_constant: float) -> FloatArray:
    """Return probability x size of demand per period.

    The probability is smoothed in every period (so a SKU that stops selling fades), the size only where demand
    occurs; both start at their first value.

    Parameters
    ----------
    events : DemandEvents
    size_constant, probability_constant : float
        Smoothing constants in (0, 1].

    Returns
    -------
    ndarray of float, shape (n,)
        Units per period; 0 for a SKU that never sold.

    References
    ----------
    Teunter, R.H., Syntetos, A.A. & Babai, M.Z. (2011), Intermittent demand: linking forecasting to inventory
    obsolescence, European Journal of Operational Research 214(3), 606-615.
    """
    check_constant(size_constant, name="size_constant")
    check_constant(probability_constant, name="probability_constant")
    (size,) = smoothed_over_events(events, events.units, constant=size_constant)
    return size * demand_probability(events, constant=probability_constant)


def demand_probability(events: DemandEvents, *, constant: float) -> FloatArray:
    """Return the smoothed probability that a period has demand, started at the first known period."""
    return smoothed_over_periods(events, np.ones(events.sku.size), constant=constant)
