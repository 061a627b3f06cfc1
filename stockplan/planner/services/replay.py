"""Replay a stretch of the books under a policy: forecasts and levels come from the live path, as of each morning."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

import numpy as np

from forecasting.messages import Message, message
from inventory.models import Sku
from inventory.rules.calendar import PlantCalendar
from inventory.selectors.plant import plant_calendar
from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.replay.opening_stock import spread_levels
from stockplan.planner.core.replay.shop_floor import settled
from stockplan.planner.core.replay.simulation import Stretch, mornings
from stockplan.planner.errors import PlanningError
from stockplan.planner.selectors.demand_basis import demand_basis
from stockplan.planner.selectors.facts import CALENDAR_REACH, calendar_around
from stockplan.planner.selectors.replay_orders import order_history
from stockplan.planner.selectors.stock_facts import shelf_spools
from stockplan.planner.services.forecasts import span_of
from stockplan.planner.services.levels import forecast_and_level
from stockplan.planner.services.make_lists import DEFAULT_DAYS
from stockplan.planner.services.plain_facts import facts_without_demand

# A week: reading and forecasting takes several times as long as the list that stands on it.
REFRESH_DAYS = 5


class StretchError(PlanningError):
    """The days to replay cannot be."""

    code = "stretch"


@dataclass
class Forecasts:
    """Forecasts by instant, whatever the policies that ask, from what the books knew by the last refresh.

    Parameters
    ----------
    refresh_days
        Ship days after which demand is read and forecast anew; a forecast between them is the last one, advanced.
    """

    refresh_days: int = REFRESH_DAYS
    kept: dict[datetime, MorningForecast] = field(default_factory=dict)

    def __call__(self, as_of: datetime) -> MorningForecast:
        last = self.kept.get(max((instant for instant in self.kept if instant <= as_of), default=as_of))
        day = None if last is None else calendar_around(as_of).first_ship_day(as_of)
        passed = self.refresh_days if last is None or day not in last.days else last.days.index(day)
        if last is None or passed >= self.refresh_days:
            last, passed = self.kept.setdefault(as_of, _forecast(as_of)), 0
        return last.advanced(as_of, days=passed) if passed else last


KNOWN_STOCK = message("Stock on the first morning: as the books knew it.")
ASSUMED_STOCK = message(
    "Stock on the first morning: not in the books: order-up-to levels, each filament between two runs."
)


@dataclass(frozen=True)
class PreparedReplay:
    """A stretch ready to be replayed, and the sentence that says where its opening stock comes from."""

    stretch: Stretch
    forecasts: Forecasts
    opening: Message

    @property
    def ship_days(self) -> int:
        """Ship days that are replayed."""
        return len(self.stretch.plant.calendar.ship_days(self.stretch.first_day, self.stretch.last_day))


def prepare_replay(*, first_day: date, last_day: date, now: datetime) -> PreparedReplay:
    """Read the plant, its orders and its opening stock.

    Raises
    ------
    StretchError
        If the last day is before the first, its pick-up is not over yet, or no ship day lies between them.
    """
    calendar = plant_calendar(first=first_day - timedelta(days=7), last=last_day + CALENDAR_REACH)
    instants = _instants(calendar, first_day, last_day, now=now)
    plant = settled(facts_without_demand(as_of=instants[0], calendar=calendar))
    forecasts = Forecasts()
    shelf = {code: n for code, n in _shelf(instants[0]).items() if n > 0}
    stretch = Stretch(
        plant=plant,
        orders=order_history(first_day=first_day, until=instants[-1]),
        values={code: float(value) for code, value in Sku.objects.values_list("item__code", "value")},
        opening=shelf or spread_levels(plant, forecasts(instants[0])),
        first_day=first_day,
        last_day=last_day,
    )
    return PreparedReplay(stretch, forecasts, KNOWN_STOCK if shelf else ASSUMED_STOCK)


def check_stretch(*, first_day: date, last_day: date, now: datetime) -> None:
    """Say at once what `prepare_replay` would say later.

    Raises
    ------
    StretchError
        As `prepare_replay`.
    """
    calendar = plant_calendar(first=first_day - timedelta(days=7), last=last_day + CALENDAR_REACH)
    _instants(calendar, first_day, last_day, now=now)


def _instants(calendar: PlantCalendar, first_day: date, last_day: date, *, now: datetime) -> list[datetime]:
    if last_day < first_day:
        raise StretchError(
            "The last day {last_day} is before the first {first_day}.",
            last_day=last_day,
            first_day=first_day,
            pointer="/to",
        )
    if calendar.at(last_day + timedelta(days=1), time(0)) > now:
        raise StretchError("The last day {last_day} is not over yet.", last_day=last_day, pointer="/to")
    if not calendar.ship_days(first_day, last_day):
        raise StretchError(
            "No parcels leave from {first_day} to {last_day}.", first_day=first_day, last_day=last_day, pointer="/from"
        )
    return mornings(calendar, first_day, last_day)


def _shelf(as_of: datetime) -> dict[str, int]:
    codes = dict(Sku.objects.values_list("pk", "item__code"))
    return {codes[pk]: n for pk, n in shelf_spools(as_of=as_of).items()}


def _forecast(as_of: datetime) -> MorningForecast:
    """Forecast and level as the service does, rows in the order of the codes."""
    calendar = calendar_around(as_of)
    span = span_of(as_of=as_of, calendar=calendar, days=DEFAULT_DAYS)
    basis = demand_basis(as_of=as_of, calendar=calendar)
    facts, prediction, levels = forecast_and_level(basis, as_of=as_of, span=span, calendar=calendar)
    by_code = np.argsort([sku.code for sku in facts.skus], kind="stable")
    is_made = (basis.is_stocked & basis.is_on_sale).to_numpy(dtype=bool)[:, None]
    return MorningForecast(
        as_of=as_of,
        days=span.days,
        mean=(prediction.mean * is_made)[by_code],
        variance=(prediction.variance * is_made)[by_code],
        order_up_to=levels.order_up_to[by_code],
        ahead=levels.ahead.spools[by_code],
        lead_days=levels.stock.lead_days[by_code],
        review_days=levels.stock.review_days[by_code],
        share_to_arrive=basis.share_to_arrive,
    )
