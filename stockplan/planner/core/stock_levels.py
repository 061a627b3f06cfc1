"""Order-up-to levels of the SKUs from the forecast of their risk periods."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from forecasting.mixture import Mixture
from forecasting.stock_targets import base_stock_cycle_service, cycle_service, fill_rate, risk_period, safety_stock
from stockplan.planner.core.shortage import Floats

HIGHEST_LINE_SHARE = 0.999


@dataclass(frozen=True)
class StockLevels:
    """Levels of S SKUs, each (S,)."""

    order_up_to: Floats
    safety_stock: Floats
    lead_days: Floats
    review_days: Floats
    cycle_service: Floats
    fill_rate: Floats


def line_share(order_share: float, *, lines_per_order: float) -> float:
    """Return the share of lines that must be there so that `order_share` of the orders is complete.

    order_share ** (1 / lines): lines of an order fail independently of each other. At most 99.9 %, beyond which the
    tail of a forecast says nothing.
    """
    return float(min(order_share ** (1 / max(lines_per_order, 1.0)), HIGHEST_LINE_SHARE))


def stock_levels(
    *,
    demand: Mixture,
    lead_days: Floats,
    review_interval_days: float,
    run_interval_days: Floats,
    is_stocked: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
    target: float | Floats,
) -> StockLevels:
    """Return the least levels with the target cycle service over the risk period.

    Parameters
    ----------
    demand : (S, H), cumulated over 1..H ship days.
    lead_days, run_interval_days : (S,) ship days; the risk period is rounded up to whole days, at most H.
    is_stocked : (S,) False: made to order, level 0.
    target : cycle service, of all SKUs or (S,) of each.
    """
    longest = demand.mean.shape[1]
    review = np.maximum(review_interval_days, run_interval_days)
    risk = risk_period(
        lead_periods=lead_days,
        review_periods=np.full_like(review, review_interval_days),
        run_interval_periods=run_interval_days,
    )
    risk_demand = _cumulated(demand, np.minimum(np.ceil(risk - 1e-9), longest))
    lead_demand = _cumulated(demand, np.minimum(np.ceil(lead_days - 1e-9), longest))
    asked = np.broadcast_to(target, lead_days.shape)[:, None]
    level = np.where(is_stocked[:, None], base_stock_cycle_service(asked, risk_demand=risk_demand), 0.0)
    return StockLevels(
        order_up_to=level[:, 0],
        safety_stock=safety_stock(level, risk_demand=risk_demand)[:, 0],
        lead_days=lead_days,
        review_days=review,
        cycle_service=cycle_service(level, risk_demand=risk_demand)[:, 0],
        fill_rate=fill_rate(level, lead_demand=lead_demand, risk_demand=risk_demand)[:, 0],
    )


def horizon_days(*, list_days: int, look_ahead_days: float, longest_risk_days: float) -> int:
    """Return the ship days that a forecast must cover for a list: its own, three look-aheads more, and the levels."""
    return max(list_days + math.ceil(3 * look_ahead_days), math.ceil(longest_risk_days))


def _cumulated(demand: Mixture, days: Floats) -> Mixture:
    """Return each SKU's demand over its own number of days, (S, 1)."""
    return demand.at(np.arange(len(days)), np.maximum(days.astype(np.intp), 1) - 1)
