"""What decides on a morning which runs are made: the make list, or the plain index."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from forecasting.messages import Message, message
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.planning import choose_runs, rules_of
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.selection import fill_lines
from stockplan.planner.core.supply import supply_state

# Takes the facts and the forecast of a morning and returns the runs that it would start from then on.
Policy = Callable[[PlanFacts, MorningForecast], Sequence[TimedRun]]


@dataclass(frozen=True)
class MakeListPolicy:
    """The make list as the service computes it, with all order-up-to levels times a factor."""

    stock_factor: float = 1.0

    @property
    def words(self) -> Message:
        """What it does, for a reader of its results."""
        return message(
            "the make list as the service computes it, order-up-to levels x {factor:g}", factor=self.stock_factor
        )

    def __call__(self, facts: PlanFacts, _morning: MorningForecast) -> Sequence[TimedRun]:
        # Without the words and the bound of a list, which take several times as long as its runs.
        return choose_runs(scaled(facts, self.stock_factor)).runs


@dataclass(frozen=True)
class PlainIndexPolicy:
    """Most misses avoided per minute, one lot after the other: no look-ahead, no charge for the way back.

    A lot goes on while its next spool is worth as much as the best use of the minute elsewhere.
    """

    stock_factor: float = 1.0

    @property
    def words(self) -> Message:
        """What it does, for a reader of its results."""
        return message(
            "most misses avoided per minute, lot by lot, without look-ahead, levels x {factor:g}",
            factor=self.stock_factor,
        )

    def __call__(self, facts: PlanFacts, _morning: MorningForecast) -> Sequence[TimedRun]:
        own = facts.parameters
        plain = replace(own, stop_share=1.0, way_back_min=0.0, least_lot_share=0.0, choice_days=own.look_ahead_days)
        plant = plant_of(replace(scaled(facts, self.stock_factor), parameters=plain).in_order())
        opening = opening_of(plant)
        return fill_lines(opening.floor, supply_state(plant, opening), rules=rules_of(plant))


def scaled(facts: PlanFacts, factor: float) -> PlanFacts:
    """Return the facts with every order-up-to level times a factor, rounded up."""
    skus = tuple(replace(sku, order_up_to=math.ceil(sku.order_up_to * factor - 1e-9)) for sku in facts.skus)
    return replace(facts, skus=skus)
