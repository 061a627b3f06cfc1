"""A list that knows the demand to come: the same planning with the truth in the forecast's place.

What it misses, the lines miss; what a list with forecasts misses beyond that is what better forecasts could win.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.replay.orders import OrderHistory
from stockplan.planner.core.replay.policies import Policy
from stockplan.planner.core.shortage import Floats, Ints


@dataclass(frozen=True)
class ClairvoyantPolicy:
    """Shows another policy all orders to come as if they were in the books.

    Parameters
    ----------
    orders
        All orders, also those due after the replay.
    within
        The policy that is shown them.
    stock_factor
        A SKU is made up to this many times what its risk period will really ask for.
    """

    orders: OrderHistory
    within: Policy
    stock_factor: float = 1.0

    def __call__(self, facts: PlanFacts, morning: MorningForecast) -> Sequence[TimedRun]:
        codes = [sku.code for sku in facts.skus]
        due = np.array([sku.due for sku in facts.skus]) + self._still_to_come(facts.as_of, codes, facts.days)
        wanted = _within(due, self.stock_factor * (morning.lead_days + morning.review_days))
        none = (0.0,) * due.shape[1]
        skus = tuple(
            replace(
                sku,
                due=tuple(map(int, row)),
                mean=none,
                variance=none,
                # The level counts on top of all that is due within the days looked at; only the risk period is wanted.
                order_up_to=int(units - row[-1]),
                ahead=0,
            )
            for sku, row, units in zip(facts.skus, due, wanted, strict=True)
        )
        return self.within(replace(facts, skus=skus), morning)

    def _still_to_come(self, as_of: datetime, codes: Sequence[str], days: Sequence[date]) -> Ints:
        """Return the units by SKU and day, cumulated, of what the books do not know yet."""
        index: Mapping[str, int] = {code: i for i, code in enumerate(codes)}
        due = np.zeros((len(codes), len(days) + 1), dtype=np.int64)
        axis = np.array(days, dtype="datetime64[D]")
        for change in self.orders.changes:
            if change.known_at > as_of:
                day = np.datetime64(self.orders.orders[change.order].due_day)
                due[index[change.sku], np.searchsorted(axis, day)] += change.delta
        return due[:, :-1].cumsum(axis=1)


def _within(due: Ints, days: Floats) -> Ints:
    """Return the units due within so many ship days, (S,); within a part of a day its part, rounded up."""
    before = np.concatenate([np.zeros((len(due), 1)), due], axis=1)
    days = np.minimum(days, due.shape[1])
    whole, rows = np.floor(days).astype(int), np.arange(len(due))
    step = before[rows, np.minimum(whole + 1, due.shape[1])] - before[rows, whole]
    return np.asarray(np.ceil(before[rows, whole] + (days - whole) * step - 1e-9), dtype=np.int64)
