"""From the one number of the owner, the share of orders that ship complete on their day, to a target of every SKU.

The product of the availabilities of an order's lines is a lower bound of what it really comes to;
`verified_order_target` simulates the orders and corrects for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecasting.basket_fill import ReviewedStock, SimulatedShare, simulate_reviewed_share
from stockplan.planner.core.basket_model import BasketModel, TargetInput, basket_model
from stockplan.planner.core.level_search import exchanged_levels, one_cycle_service, priced_levels
from stockplan.planner.core.shortage import Floats, Ints

ORDERS_SIMULATED = 100_000
CLOSE_ENOUGH = 0.0025
CORRECTIONS = 4


@dataclass(frozen=True)
class OrderTarget:
    """Levels and what they come to.

    Parameters
    ----------
    levels : (S,) order-up-to.
    cycle_service : (S,) P(no stock-out over lead time and review) that each SKU needs; halfway between what its level
        and the one below give, so that the same share leads back to the same level.
    share
        Of orders complete, lines taken as independent.
    stock_value
        Mean value on the shelf.
    single_sku_value
        The same if every SKU had the one cycle service that reaches the share.
    """

    levels: Ints
    cycle_service: Floats
    share: float
    stock_value: float
    single_sku_value: float


@dataclass(frozen=True)
class VerifiedTarget:
    """An order target whose simulated share is the one asked for, and the share that had to be aimed at."""

    target: OrderTarget
    aimed_share: float
    simulated: SimulatedShare


def order_target(given: TargetInput, share: float) -> OrderTarget:
    """Return the levels of least stock value whose orders are complete with a share.

    One price of completeness for all SKUs gives a start that no pure greedy from zero finds (one of two lines alone
    gains nothing); then single spools are taken away or exchanged until no exchange lowers the value.

    Notes
    -----
    No level is above 99.95 % cycle service and the largest line on top, as the tail of a demand says nothing beyond
    it. Where those levels do not reach the share, they are the answer; `share` tells.
    """
    model = basket_model(given)
    share = min(share, model.share(model.highest))
    for_all = one_cycle_service(model, share)
    uniform = model.levels_at(for_all)
    levels = exchanged_levels(model, priced_levels(model, uniform, share), share)
    if model.value_of(uniform) < model.value_of(levels):
        levels = exchanged_levels(model, uniform, share)
    return OrderTarget(
        levels=levels,
        cycle_service=_cycle_service(model, levels, in_no_basket=for_all),
        share=model.share(levels),
        stock_value=model.value_of(levels),
        single_sku_value=model.value_of(uniform),
    )


def verified_order_target(given: TargetInput, share: float, *, seed: int = 0) -> VerifiedTarget:
    """Return the order target whose simulated share of orders complete is the one asked for.

    Simulated with `ORDERS_SIMULATED` orders drawn from the baskets; the share that is aimed at is moved by what the
    simulation is off, until it is within 0.25 points, at most four times. Where whole spools leave no levels so close,
    the nearest of those tried that reach the share are taken, and the nearest of all if none does.
    """
    aimed, tried = share, list[VerifiedTarget]()
    for _ in range(CORRECTIONS):
        found = order_target(given, aimed)
        tried.append(VerifiedTarget(found, aimed, simulated_share(given, found.levels, seed=seed)))
        over = tried[-1].simulated.share - share
        if abs(over) <= CLOSE_ENOUGH:
            return tried[-1]
        aimed = min(max(aimed - over, 0.0), 1.0)
    return min(tried, key=lambda one: (one.simulated.share < share, abs(one.simulated.share - share)))


def simulated_share(given: TargetInput, levels: Ints, *, seed: int) -> SimulatedShare:
    """Return the share of orders complete under some levels, by simulation."""
    stock = ReviewedStock(levels, given.lead_days, given.review_days)
    return simulate_reviewed_share(
        given.baskets,
        stock,
        orders_per_day=given.orders_per_day,
        orders=ORDERS_SIMULATED,
        rng=np.random.default_rng(seed),
    )


def _cycle_service(model: BasketModel, levels: Ints, *, in_no_basket: float) -> Floats:
    """Return the cycle service of each level, halfway down to that of the level below."""
    at, below = model.risk_demand.cdf(levels), model.risk_demand.cdf(levels - 1)
    return np.where(model.risk_demand.mean > 0, (at + below) / 2, in_no_basket)
