"""Stock to hold: order-up-to levels, cycle service, fill rate and safety stock of a periodic review.

Two service measures, never mixed: cycle service is the share of review cycles without a stock-out; fill rate is the
share of demand met from the shelf. Every function is vectorised: arrays of equal shape, one entry per SKU.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.distribution import NegativeBinomial
from forecasting.errors import ParameterError
from forecasting.mixture import Mixture

FloatArray = NDArray[np.float64]
Demand = NegativeBinomial | Mixture


def risk_period(*, lead_periods: ArrayLike, review_periods: ArrayLike, run_interval_periods: ArrayLike) -> FloatArray:
    """Return L + R: periods from now until the next but one run of the filament can be on the shelf.

    R is the longer of the review interval and the expected interval between runs: planning every day does not mean
    that each filament runs every day.

    Parameters
    ----------
    lead_periods : array_like
        L >= 0: drying, queue, winding, oven, weekend and packing of one run, in ship days.
    review_periods, run_interval_periods : array_like
        Time between two plannings and between two runs, > 0, in ship days.
    """
    lead, review, interval = (np.asarray(v, dtype=float) for v in (lead_periods, review_periods, run_interval_periods))
    if np.any(~(lead >= 0)) or np.any(~(review > 0)) or np.any(~(interval > 0)):
        raise ParameterError("lead periods must be >= 0, review and run interval > 0")
    return np.asarray(lead + np.maximum(review, interval))


def cycle_service(base_stock: ArrayLike, *, risk_demand: Demand) -> FloatArray:
    """Return P(D_{L+R} <= x), the share of review cycles that end without a stock-out."""
    return risk_demand.cdf(base_stock)


def base_stock_cycle_service(target: ArrayLike, *, risk_demand: Demand) -> FloatArray:
    """Return the least whole order-up-to level with at least the target cycle service."""
    return risk_demand.ppf(target)


def safety_stock(base_stock: ArrayLike, *, risk_demand: Demand) -> FloatArray:
    """Return x - E[D_{L+R}]."""
    return np.asarray(base_stock, dtype=float) - risk_demand.mean


def fill_rate(base_stock: ArrayLike, *, lead_demand: Demand, risk_demand: Demand) -> FloatArray:
    """Return the share of demand met from the shelf under an order-up-to level x with backorders.

    1 - (E[(D_{L+R} - x)+] - E[(D_L - x)+]) / E[D_R]: what is short at the end of a cycle less what was already short
    at its start. The second term matters as soon as L > 0.

    Parameters
    ----------
    base_stock : array_like
        x, units.
    lead_demand, risk_demand : NegativeBinomial or Mixture
        Demand cumulated over L and over L + R; E[D_R] is the difference of their means.

    Returns
    -------
    ndarray of float
        In [0, 1]; 1 where nothing is demanded.

    References
    ----------
    Johnson, M.E., Lee, H.L., Davis, T. & Hall, R. (1995), Expressions for item fill rates in periodic inventory
    systems, Naval Research Logistics 42(1), 57-80 (from memory); checked by simulation in the tests.
    """
    demand = risk_demand.mean - lead_demand.mean
    if np.any(demand < 0):
        raise ParameterError("demand over the risk period must be at least the demand over the lead time")
    short = risk_demand.expected_shortage(base_stock) - lead_demand.expected_shortage(base_stock)
    share = np.divide(short, demand, out=np.zeros(np.broadcast_shapes(short.shape, demand.shape)), where=demand > 0)
    return np.clip(1.0 - share, 0.0, 1.0)


def base_stock_fill_rate(target: ArrayLike, *, lead_demand: Demand, risk_demand: Demand) -> FloatArray:
    """Return the least whole order-up-to level >= 0 with at least the target fill rate, by halving.

    Raises
    ------
    ParameterError
        If a target is outside [0, 1).
    """
    share = np.broadcast_to(np.asarray(target, dtype=float), risk_demand.mean.shape)
    if np.any(~((share >= 0) & (share < 1))):
        raise ParameterError("a target fill rate must be in [0, 1); got {target!r}", target=target)
    low, high = np.full(share.shape, -1.0), _enough_stock(share, lead_demand, risk_demand)
    while np.any(high - low > 1.0):
        middle = np.floor((low + high) / 2.0)
        reached = fill_rate(middle, lead_demand=lead_demand, risk_demand=risk_demand) >= share
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    return high


def _enough_stock(share: FloatArray, lead: Demand, risk: Demand) -> FloatArray:
    high = np.ceil(risk.mean + 1.0)
    while np.any(is_short := fill_rate(high, lead_demand=lead, risk_demand=risk) < share):
        high = np.where(is_short, 2.0 * high, high)
    return high
