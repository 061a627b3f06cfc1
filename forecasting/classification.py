"""Demand classes by mean interval and variation of sizes."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from forecasting.methods.events import DemandEvents, FloatArray

INTERVAL_CUT = 1.32
SIZE_VARIATION_CUT = 0.49
# A variance of sizes and a mean interval need a few demands before they say anything; a rule of ours.
FEWEST_EVENTS = 3
FEWEST_PERIODS = 20


class DemandClass(StrEnum):
    """How a SKU sells."""

    SMOOTH = "smooth"
    INTERMITTENT = "intermittent"
    ERRATIC = "erratic"
    LUMPY = "lumpy"
    NEW = "new"
    SPARSE = "sparse"


def demand_classes(events: DemandEvents) -> NDArray[np.str_]:
    """Classify each SKU: new (short record), sparse (hardly any demand), else by the published cut-offs."""
    interval, variation = interval_and_variation(events)
    return np.where(
        events.n_known < FEWEST_PERIODS,
        DemandClass.NEW.value,
        np.where(events.count < FEWEST_EVENTS, DemandClass.SPARSE.value, class_by_cuts(interval, variation)),
    )


def class_by_cuts(interval: FloatArray, size_variation: FloatArray) -> NDArray[np.str_]:
    """Return smooth, intermittent, erratic or lumpy.

    Parameters
    ----------
    interval : ndarray of float
        Mean number of periods between demands, >= 1.
    size_variation : ndarray of float
        Squared coefficient of variation of the sizes of demand.

    References
    ----------
    Syntetos, A.A., Boylan, J.E. & Croston, J.D. (2005), On the categorization of demand patterns, Journal of the
    Operational Research Society 56(5), 495-503. A value on the cut counts as the less regular side.
    """
    is_rare, is_varied = interval >= INTERVAL_CUT, size_variation >= SIZE_VARIATION_CUT
    regular = np.where(is_varied, DemandClass.ERRATIC.value, DemandClass.SMOOTH.value)
    rare = np.where(is_varied, DemandClass.LUMPY.value, DemandClass.INTERMITTENT.value)
    return np.where(is_rare, rare, regular)


def interval_and_variation(events: DemandEvents) -> tuple[FloatArray, FloatArray]:
    """Return mean interval (known periods per demand) and squared variation of sizes; inf and 0 without demand."""
    has_demand = events.count > 0
    interval = np.divide(events.n_known, events.count, out=np.full(has_demand.size, np.inf), where=has_demand)
    square = events.mean_size**2
    return interval, np.divide(events.size_variance, square, out=np.zeros_like(square), where=has_demand)
