"""Stock or make to order: what the shelf space of each SKU earns or costs in a year, and where it breaks even.

A SKU that is stocked is made with its filament's runs and costs the holding of its stock. One that is made to order
needs a run of its own on each ship day on which it is ordered, unless its filament runs on that day anyway; that run
costs a changeover and start-up. The shelf earns what those runs would cost:

    earns = order days x (1 - 1 / T) x c x line cost            T ship days between the filament's runs
    costs = holding rate x mean stock value                     c hours of changeover and start-up

The break-even is the number of order days a year at which the two are equal with the stock as it is. What an order is
worth that goes elsewhere because it cannot ship the same day is not known to the books and not counted: it speaks for
the shelf.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Self

import numpy as np

from forecasting.distribution import NegativeBinomial
from stockplan.planner.core.shortage import Floats


@dataclass(frozen=True)
class ShelfInput:
    """SKUs as the plant sells them; every array is (S,).

    Parameters
    ----------
    order_days_per_year
        Ship days a year on which the SKU is ordered.
    daily_mean, daily_variance
        Demand of a ship day.
    order_up_to, lead_days, review_days
        Level it has or would have on the shelf, and the ship days of its risk period.
    value
        Of a spool.
    run_interval_days
        Ship days between two runs of its filament.
    changeover_h
        Changeover and start-up of one run of its filament.
    """

    order_days_per_year: Floats
    daily_mean: Floats
    daily_variance: Floats
    order_up_to: Floats
    lead_days: Floats
    review_days: Floats
    value: Floats
    run_interval_days: Floats
    changeover_h: Floats


@dataclass(frozen=True)
class ShelfWorth:
    """Money a year, (S,). `break_even_order_days` is infinite where a run of its own costs nothing."""

    mean_stock: Floats
    holding_cost: Floats
    runs_saved: Floats
    runs_saved_cost: Floats
    break_even_order_days: Floats

    @property
    def earns(self) -> Floats:
        """Return what the shelf space earns (costs, where negative)."""
        return self.runs_saved_cost - self.holding_cost


@dataclass(frozen=True)
class SkuAdvice:
    """What the shelf space of one SKU is worth. Money is a year's.

    Parameters
    ----------
    is_stocked
        How it is kept now.
    earns
        What its shelf saves, less what it costs; negative where it costs more.
    break_even_order_days
        Order days a year at which both are equal; None where no number of them pays the shelf.
    """

    sku: str
    is_stocked: bool
    mean_stock: float
    holding_cost: float
    runs_saved: float
    runs_saved_cost: float
    earns: float
    order_days_per_year: float
    break_even_order_days: float | None

    @property
    def deserves_shelf(self) -> bool:
        """Whether it should lie on the shelf, by these numbers."""
        return self.earns >= 0

    @property
    def is_change(self) -> bool:
        """Whether it is kept otherwise now."""
        return self.deserves_shelf != self.is_stocked

    def sentence(self, *, currency: str) -> str:
        """Say what to do and why, in money of a currency."""
        advice = "keep on the shelf" if self.deserves_shelf else "make to order"
        even = "no number of" if self.break_even_order_days is None else f"{self.break_even_order_days:.0f}"
        return (
            f"{self.sku}: {advice}. Its stock costs {currency} {self.holding_cost:.0f} a year and saves "
            f"{self.runs_saved:.1f} runs worth {currency} {self.runs_saved_cost:.0f}; ordered on "
            f"{self.order_days_per_year:.0f} days a year, break-even at {even} days."
        )

    @classmethod
    def of_json(cls, values: Mapping[str, Any]) -> Self:
        """Read what was stored of one."""
        return cls(**values)


def shelf_worth(given: ShelfInput, *, holding_rate_per_year: float, line_hour_cost: float) -> ShelfWorth:
    """Return what the shelf space of each SKU earns in a year."""
    stock = _mean_stock(given)
    holding = holding_rate_per_year * stock * given.value
    own_run = 1 - 1 / np.maximum(given.run_interval_days, 1.0)
    each = own_run * given.changeover_h * line_hour_cost
    even = np.divide(holding, each, out=np.full_like(holding, np.inf), where=each > 0)
    runs = given.order_days_per_year * own_run
    return ShelfWorth(
        mean_stock=stock,
        holding_cost=holding,
        runs_saved=runs,
        runs_saved_cost=runs * given.changeover_h * line_hour_cost,
        break_even_order_days=np.where(holding == 0, 0.0, even),
    )


def _mean_stock(given: ShelfInput) -> Floats:
    """Return E[(x - D)+] in the middle of the review cycle: x - E[D] + E[(D - x)+] over lead time and half a review."""
    days = given.lead_days + given.review_days / 2
    demand = NegativeBinomial(given.daily_mean * days, given.daily_variance * days)
    return np.asarray(given.order_up_to - demand.mean + demand.expected_shortage(given.order_up_to))
