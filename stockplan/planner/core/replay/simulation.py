"""The day loop: list in the morning, runs as planned, orders served at the pick-up.

Nothing of a day is shown to a policy before it was known: orders enter the desk when the books learned of them, and
the forecast of a morning is asked for with that morning's instant.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from inventory.rules.calendar import PlantCalendar
from stockplan.planner.core.facts import ListBefore, PlanFacts
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.replay.morning import MorningForecast, morning_facts
from stockplan.planner.core.replay.orders import OrderDesk, OrderHistory
from stockplan.planner.core.replay.policies import Policy
from stockplan.planner.core.replay.records import DayRecord
from stockplan.planner.core.replay.shop_floor import ShopFloor, settled, shop_floor
from stockplan.planner.core.steadiness import placed_runs

# Ovens and shifts are looked up so long after the last day.
AFTER_LAST_DAY = timedelta(days=28)
LIST_AT = time(6)


@dataclass(frozen=True)
class Stretch:
    """What is replayed, whatever the policy.

    Parameters
    ----------
    plant
        Catalogue, lines, rules and a calendar that covers the days; its stock and orders are not used.
    values
        Value of a spool by SKU.
    opening
        Spools on the shelf on the first morning, by SKU.
    list_days
        Ship days that each list covers: two, for only what starts before the next morning is made.
    """

    plant: PlanFacts
    orders: OrderHistory
    values: Mapping[str, float]
    opening: Mapping[str, int]
    first_day: date
    last_day: date
    list_days: int = 2


def mornings(calendar: PlantCalendar, first_day: date, last_day: date) -> list[datetime]:
    """Return the instant of the list of each ship day, and of the first ship day after them.

    Raises
    ------
    ValueError
        If no parcels leave between the days.
    """
    days = calendar.ship_days(first_day, last_day)
    if not days:
        raise ValueError(f"no ship day from {first_day} to {last_day}")
    return [calendar.at(day, LIST_AT) for day in (*days, calendar.nth_ship_day_after(days[-1], 1))]


def replay(
    stretch: Stretch,
    policy: Policy,
    *,
    forecast_of: Callable[[datetime], MorningForecast],
    tick: Callable[[date], None] | None = None,
) -> tuple[DayRecord, ...]:
    """Replay a stretch of days under a policy and return the record of each ship day.

    Parameters
    ----------
    forecast_of
        The forecast of an instant, from what was known by it.
    tick
        Called with each day that is done, to show progress.
    """
    instants = mornings(stretch.plant.calendar, stretch.first_day, stretch.last_day)
    base = settled(stretch.plant)
    span = tuple(base.calendar.local_day(instant) for instant in instants)
    whole = plant_of(_over(base, instants[0], span))
    simulation = _Simulation(
        stretch, base, shop_floor(whole, last=instants[-1] + AFTER_LAST_DAY), OrderDesk(stretch.orders)
    )
    simulation.shelf.update(stretch.opening)
    records = []
    for as_of, until in itertools.pairwise(instants):
        records.append(simulation.day(as_of, until, policy, forecast_of(as_of)))
        if tick is not None:
            tick(records[-1].day)
    return tuple(records)


class _Simulation:
    """The plant as it stands, from one morning to the next."""

    def __init__(self, stretch: Stretch, base: PlanFacts, floor: ShopFloor, desk: OrderDesk) -> None:
        self.stretch, self.base, self.floor, self.desk = stretch, base, floor, desk
        self.shelf: dict[str, int] = {}
        self.listed: ListBefore | None = None

    def day(self, as_of: datetime, until: datetime, policy: Policy, morning: MorningForecast) -> DayRecord:
        """List, run and ship from one morning to the next."""
        self._go_on(as_of)
        facts = morning_facts(
            self.base,
            morning,
            list_days=self.stretch.list_days,
            floor=self.floor,
            desk=self.desk,
            shelf=self.shelf,
            listed=self.listed,
        )
        plant = plant_of(facts.in_order())
        runs = policy(facts, morning)
        used = self.floor.start(runs, as_of=as_of, until=until)
        self.listed = ListBefore(as_of, tuple(run for run in placed_runs(plant, runs) if run.start >= until))
        available = self.floor.available_min(as_of, until)
        day = self.base.calendar.local_day(as_of)
        self._go_on(self.base.calendar.pick_up_at(day))
        self.desk.ship(day, self.shelf)
        orders, lines, units = self.desk.counted(day)
        return DayRecord(
            day=day,
            orders=orders,
            lines=lines,
            units=units,
            stock_value=sum(n * self.stretch.values[sku] for sku, n in self.shelf.items()),
            stock_units=sum(self.shelf.values()),
            late_orders=self.desk.late_orders(day),
            use=replace(used, available_min=available),
        )

    def _go_on(self, until: datetime) -> None:
        self.desk.learn(until)
        self.floor.go_on(until, self.shelf)


def _over(base: PlanFacts, as_of: datetime, days: tuple[date, ...]) -> PlanFacts:
    """Return the plant on an axis of the replayed days."""
    none, zero = (0,) * len(days), (0.0,) * len(days)
    skus = tuple(replace(sku, due=none, mean=zero, variance=zero) for sku in base.skus)
    return replace(base, as_of=as_of, first_day=days[0], last_day=days[-1], days=days, skus=skus)
