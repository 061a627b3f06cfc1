"""The plant's parameters and its calendar, read from the tables."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from functools import lru_cache
from zoneinfo import ZoneInfo

import holidays

from inventory.errors import NotFoundError
from inventory.models import Closure, Crew, Line, PlantParameters, Shift, WorkDay
from inventory.rules.calendar import CrewWindow, DayRule, PlantCalendar, Window


def parameters() -> PlantParameters:
    """Return the one row of plant parameters. One query.

    Raises
    ------
    NotFoundError
        If no plant is loaded yet.
    """
    row = PlantParameters.objects.first()
    if row is None:
        raise NotFoundError("No plant is loaded: there are no plant parameters. Run load_plant first.")
    return row


def plant_calendar(*, first: date, last: date) -> PlantCalendar:
    """Build the calendar that answers for the local days `first` to `last`. Six queries, whatever the size.

    Public holidays are known from a year before `first` to a year after `last`, so that a run or an order at
    either end can look over a year end.

    Raises
    ------
    NotFoundError
        If no plant is loaded yet.
    """
    plant = parameters()
    return PlantCalendar(
        zone=ZoneInfo(plant.time_zone),
        day_rules=_day_rules(),
        closed_days=_closed_days(plant, first_year=first.year, last_year=last.year),
        shifts=_shifts(),
        crews=tuple(
            CrewWindow(weekday=crew.weekday, start=crew.start, end=crew.end, size=crew.size)
            for crew in Crew.objects.order_by("weekday", "start")
        ),
    )


def ship_calendar(*, first: date, last: date, version: str | None = None) -> PlantCalendar:
    """Return the calendar without shifts and crews: all that a promise asks of it.

    Kept from call to call as long as the plant's version stands. One query for the version where the caller has not
    just read it, three more after a change.

    Raises
    ------
    NotFoundError
        If no plant is loaded yet.
    """
    return _ship_calendar(version or parameters().version, first.year, last.year)


@lru_cache(maxsize=16)
def _ship_calendar(version: str, first_year: int, last_year: int) -> PlantCalendar:  # noqa: ARG001 - part of the key
    plant = parameters()
    return PlantCalendar(
        zone=ZoneInfo(plant.time_zone),
        day_rules=_day_rules(),
        closed_days=_closed_days(plant, first_year=first_year, last_year=last_year),
    )


def _closed_days(plant: PlantParameters, *, first_year: int, last_year: int) -> frozenset[date]:
    closed = frozenset(Closure.objects.values_list("day", flat=True))
    if not plant.holiday_country:
        return closed
    return closed | _public_holidays(
        plant.holiday_country, plant.holiday_subdivision or None, first_year - 1, last_year + 1
    )


@lru_cache(maxsize=64)
def _public_holidays(country: str, subdivision: str | None, first_year: int, last_year: int) -> frozenset[date]:
    # Kept, because every order asks for the same years and the library computes them anew each time.
    years = range(first_year, last_year + 1)
    return frozenset(holidays.country_holidays(country, subdiv=subdivision, years=years))


def _day_rules() -> dict[int, DayRule]:
    return {
        day.weekday: DayRule(
            cut_off=day.cut_off,
            pick_up=day.pick_up,
            oven_load_at=day.oven_load_at,
            pack_from=day.pack_from,
            shelf_ready=day.shelf_ready,
            pack_spools=day.pack_spools,
        )
        for day in WorkDay.objects.all()
    }


def _shifts() -> dict[str, tuple[Window, ...]]:
    windows: dict[str, list[Window]] = defaultdict(list)
    for code, weekday, start, end in Shift.objects.order_by("weekday", "start").values_list(
        "line__code", "weekday", "start", "end"
    ):
        windows[code].append(Window(weekday=weekday, start=start, end=end))
    # A line without a shift answers "no window", not "unknown line".
    return {code: tuple(windows[code]) for code in Line.objects.values_list("code", flat=True)}
