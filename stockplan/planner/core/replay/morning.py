"""What a policy is shown on a morning: the forecast of that morning, and the facts of a make list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np

from forecasting.arrival_profile import demand_to_arrive
from stockplan.planner.core.facts import ListBefore, PlanFacts
from stockplan.planner.core.replay.orders import OrderDesk
from stockplan.planner.core.replay.shop_floor import ShopFloor
from stockplan.planner.core.shortage import Floats, Ints


@dataclass(frozen=True)
class MorningForecast:
    """What was forecast at an instant from what was known by then; rows in the order of the SKUs' codes.

    Parameters
    ----------
    mean, variance : (S, T) of the demand still to arrive by each day, cumulated; 0 where a SKU is not stocked or sold.
    order_up_to, ahead : (S,) levels, and what of them is built ahead of weeks that the lines cannot follow.
    lead_days, review_days : (S,) ship days until the next run is on the shelf, and between runs.
    share_to_arrive : of the first day's demand, the share that had not arrived yet.
    """

    as_of: datetime
    days: tuple[date, ...]
    mean: Floats
    variance: Floats
    order_up_to: Ints
    ahead: Ints
    lead_days: Floats
    review_days: Floats
    share_to_arrive: float

    def advanced(self, as_of: datetime, *, days: int) -> MorningForecast:
        """Return the same forecast as it stands some ship days later, at the same hour of the day.

        What has passed leaves the mean; the variance keeps its ratio to the mean of as many days. Levels stay.
        """
        ahead = self.mean.shape[1] - days
        mean = self.mean[:, days:] - self.mean[:, days - 1 : days]
        ratio = np.divide(self.variance, self.mean, out=np.ones_like(self.mean), where=self.mean > 0)
        mean, variance = demand_to_arrive(
            mean, mean * ratio[:, :ahead], first_mean=mean[:, 0], share_to_arrive=self.share_to_arrive
        )
        return replace(self, as_of=as_of, days=self.days[days:], mean=mean, variance=variance)


def morning_facts(
    base: PlanFacts,
    morning: MorningForecast,
    *,
    list_days: int,
    floor: ShopFloor,
    desk: OrderDesk,
    shelf: Mapping[str, int],
    listed: ListBefore | None,
) -> PlanFacts:
    """Return the facts of a make list as a simulated plant stands on a morning.

    Parameters
    ----------
    base
        The plant: catalogue, lines, rules and calendar, SKUs in the order of their codes. Its stock, runs and orders
        are not used. Materials limit nothing: history does not say what a replayed plant would have bought.
    list_days
        Ship days that the list covers.
    listed
        What the list of the morning before has left to begin; None: there is none.
    """
    late, due = desk.open_units([sku.code for sku in base.skus], morning.days)
    skus = tuple(
        replace(
            sku,
            shelf=shelf.get(sku.code, 0),
            order_up_to=int(morning.order_up_to[i]),
            ahead=int(morning.ahead[i]),
            late=int(late[i]),
            due=tuple(map(int, due[i])),
            mean=tuple(map(float, morning.mean[i])),
            variance=tuple(map(float, morning.variance[i])),
        )
        for i, sku in enumerate(base.skus)
    )
    return replace(
        base,
        as_of=morning.as_of,
        first_day=base.calendar.local_day(morning.as_of),
        last_day=morning.days[min(list_days, len(morning.days)) - 1],
        days=morning.days,
        skus=skus,
        lines=tuple(replace(line, holds=floor.holds[line.code]) for line in base.lines),
        committed=floor.committed(),
        pipeline=floor.pipeline(),
        hoppers=tuple(floor.hoppers.values()),
        store=(),
        instructions=(),
        listed=listed,
    )
