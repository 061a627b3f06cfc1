"""A week of a plant of two filaments, and a forecast that is given: what is left is the day loop itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np

from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.replay.orders import LineChange, OrderHistory, ReplayOrder
from stockplan.planner.core.replay.simulation import Stretch
from tests.planner.small_facts import calendar, facts

FIRST, LAST = date(2027, 3, 1), date(2027, 3, 5)
SKUS = ("A-1000", "B-1000")
HORIZON = 10


def at(day: int, hour: int) -> datetime:
    """An hour of a day of the week, 0 = Monday; the plant's clock is an hour ahead of UTC."""
    return datetime(2027, 3, 1 + day, hour - 1, tzinfo=UTC)


def ordered(*rows: tuple[int, str, int], known: Mapping[int, datetime] | None = None) -> OrderHistory:
    """One order a row: (due on day of the week, SKU, units), received and known on the Monday before unless stated."""
    long_ago = at(0, 6) - timedelta(days=7)
    when = {i: (known or {}).get(i, long_ago) for i in range(len(rows))}
    changes = [LineChange(when[i], i, sku, units) for i, (_, sku, units) in enumerate(rows)]
    return OrderHistory(
        {i: ReplayOrder(i, when[i], FIRST + timedelta(days=row[0]), False, True) for i, row in enumerate(rows)},
        tuple(sorted(changes, key=lambda change: change.known_at)),
    )


def stretch(orders: OrderHistory, **fields: Any) -> Stretch:
    figures: dict[str, Any] = {
        "plant": facts(days=HORIZON),
        "values": {"A-1000": 10.0, "B-1000": 20.0},
        "opening": {},
        "first_day": FIRST,
        "last_day": LAST,
    }
    return Stretch(orders=orders, **(figures | fields))


def forecasts(*, daily: float = 0.0, order_up_to: int = 0, ahead: int = 0) -> Callable[[datetime], MorningForecast]:
    """The same Poisson demand of both SKUs on every morning."""

    def forecast_of(as_of: datetime) -> MorningForecast:
        plant_calendar = calendar()
        first = plant_calendar.first_ship_day(as_of)
        mean = np.tile(daily * np.arange(1.0, HORIZON + 1), (len(SKUS), 1))
        return MorningForecast(
            as_of=as_of,
            days=tuple(plant_calendar.ship_days(first, first + timedelta(days=30))[:HORIZON]),
            mean=mean,
            variance=mean,
            order_up_to=np.full(len(SKUS), order_up_to),
            ahead=np.full(len(SKUS), ahead),
            lead_days=np.full(len(SKUS), 2.0),
            review_days=np.full(len(SKUS), 3.0),
            share_to_arrive=1.0,
        )

    return forecast_of
