"""What the orders of the books find on the shelf under some levels, and what those levels cost.

Letters used throughout: x level of a SKU; F(y) = P(D <= y) of its demand since the review whose order arrived last,
averaged over the review cycle; an order that wants q of it finds them with probability A = F(x - q). An order is
complete with the product of the A of its lines: a lower bound where lines are positively dependent (Song 1998), as
those of one stream of orders are. Stock on the shelf is the mean of (x - D)+, which is the sum of F(y) over y < x,
times the value of a spool.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecasting.basket_fill import Baskets
from forecasting.distribution import NegativeBinomial
from forecasting.order_fill import order_fill_if_independent
from stockplan.planner.core.shortage import Floats, Ints

MOST_AGES = 8
HIGHEST_CYCLE_SERVICE = 0.9995


@dataclass(frozen=True)
class TargetInput:
    """What an order target is computed from.

    Parameters
    ----------
    baskets
        Orders of the books; items are SKUs.
    orders_per_day
        Orders of a ship day.
    value : (S,) of a spool.
    lead_days, review_days : (S,) whole ship days.
    """

    baskets: Baskets
    orders_per_day: float
    value: Floats
    lead_days: Ints
    review_days: Ints


@dataclass(frozen=True)
class BasketModel:
    """Tables over levels 0..Y: `at_most[s, y]` is F(y), `held[s, x]` the mean value of (x - D)+."""

    given: TargetInput
    at_most: Floats
    held: Floats
    highest: Ints
    risk_demand: NegativeBinomial

    def found(self, levels: Ints) -> Floats:
        """Return the probability that each line is there, (k,)."""
        baskets = self.given.baskets
        left = levels[baskets.item] - baskets.units
        return np.where(left >= 0, self.at_most[baskets.item, np.maximum(left, 0)], 0.0)

    def complete(self, levels: Ints) -> Floats:
        """Return the probability that each order is complete, (n,)."""
        baskets = self.given.baskets
        return order_fill_if_independent(self.found(levels), order=baskets.order, item=np.arange(len(baskets.item)))

    def share(self, levels: Ints) -> float:
        """Return the share of orders complete."""
        return float(self.complete(levels).mean())

    def value_of(self, levels: Ints) -> float:
        """Return the mean stock value."""
        return float(self.held[np.arange(len(levels)), levels].sum())

    def others(self, levels: Ints) -> Floats:
        """Return for each line what its order gains by a unit of its probability: the other lines' product, over n."""
        found = np.maximum(self.found(levels), 1e-9)
        baskets = self.given.baskets
        product = order_fill_if_independent(found, order=baskets.order, item=np.arange(len(found)))
        return np.asarray(product[baskets.order] / found / baskets.n_orders)

    def gain(self, levels: Ints) -> Floats:
        """Return the share of orders that each SKU would complete at each level, (S, Y + 1), given the others'."""
        baskets, others = self.given.baskets, self.others(levels)
        gain = np.zeros_like(self.at_most)
        for units in np.unique(baskets.units):
            lines = baskets.units == units
            weight = np.bincount(baskets.item[lines], weights=others[lines], minlength=len(gain))
            if units < gain.shape[1]:
                gain[:, units:] += weight[:, None] * self.at_most[:, : gain.shape[1] - units]
        return gain

    def levels_at(self, cycle_service: float) -> Ints:
        """Return the levels of one cycle service for all SKUs."""
        if cycle_service >= HIGHEST_CYCLE_SERVICE:
            return self.highest
        return np.minimum(self.risk_demand.ppf(cycle_service).astype(np.int64), self.highest)


def basket_model(given: TargetInput) -> BasketModel:
    """Return the tables of a shop's orders."""
    mean, variance = given.baskets.daily_moments(orders_per_day=given.orders_per_day, n_items=len(given.value))
    risk_days = given.lead_days + given.review_days
    risk = NegativeBinomial(mean * risk_days, variance * risk_days)
    largest = np.zeros(len(mean), dtype=np.int64)
    np.maximum.at(largest, given.baskets.item, given.baskets.units)
    highest = risk.ppf(HIGHEST_CYCLE_SERVICE).astype(np.int64) + largest
    counts = np.arange(int(highest.max()) + 1)
    at_most = np.zeros((len(mean), len(counts)))
    for step in range(MOST_AGES):
        # Days of the cycle at even steps; half a day more, as an order arrives in the middle of its day.
        age = given.lead_days + np.floor((step + 0.5) / MOST_AGES * given.review_days) + 0.5
        demand = NegativeBinomial((mean * age)[:, None], (variance * age)[:, None])
        at_most += demand.cdf(counts[None, :]) / MOST_AGES
    held = np.concatenate([np.zeros((len(mean), 1)), np.cumsum(at_most, axis=1)[:, :-1]], axis=1)
    return BasketModel(given, at_most, held * given.value[:, None], highest, risk)
