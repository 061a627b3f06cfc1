"""Oven places and packing by hand; shelf times against the calendar itself."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from stockplan.planner.core.facts import OvenFacts
from stockplan.planner.core.finishing import (
    Arrival,
    FinishingBoard,
    ShelfTimes,
    fitting_ovens,
    packing_limits,
    shelf_times,
)
from stockplan.planner.core.timing import MinuteClock
from tests.planner.small_facts import DAY_RULE, MONDAY, calendar, material, ship_days, sku

CLOCK = MinuteClock(MONDAY)
LAST = MONDAY + timedelta(days=12)
TEN_AM_TUESDAY, TEN_AM_WEDNESDAY = 28 * 60, 52 * 60


def _times(dry_h: float) -> ShelfTimes:
    return shelf_times(calendar(), clock=CLOCK, days=ship_days(8), last=LAST, dry_h=dry_h)


def _board(*ovens: OvenFacts, packing: dict[int, int] | None = None) -> FinishingBoard:
    return FinishingBoard({6.0: _times(6.0), 0.0: _times(0.0)}, ovens, packing or {})


@pytest.mark.parametrize("wound_min", [0, 1, 959, 960, 961, 5 * 1440, 4 * 1440 + 960, 4 * 1440 + 961])
@pytest.mark.parametrize("dry_h", [0.0, 6.0])
def test_shelf_times_equal_the_calendar(dry_h: float, wound_min: int) -> None:
    times, week = _times(dry_h), calendar()
    at = times.first(wound_min)
    shelf_at = week.shelf_at(CLOCK.instant(wound_min), dry_h=dry_h)
    assert CLOCK.instant(times.shelf[at]) == shelf_at
    assert ship_days(8)[times.day[at]] == week.first_ship_day(shelf_at)


def test_shelf_times_wait_over_a_closed_day() -> None:
    closed = frozenset({date(2027, 3, 2)})
    week = calendar(closed=closed)
    open_days = week.ship_days(date(2027, 3, 1), date(2027, 3, 10))
    tuesday_off = shelf_times(week, clock=CLOCK, days=open_days, last=LAST, dry_h=6.0)
    assert CLOCK.instant(tuesday_off.shelf[0]) == calendar().at(date(2027, 3, 3), DAY_RULE.shelf_ready)


def test_lot_that_fills_the_oven_leaves_the_rest_for_the_next_night() -> None:
    board = _board(OvenFacts("O1", places=30, temperature_c=50))
    found = board.shelve(sku("A"), material(), wound_min=100, spools=40)
    assert found == (Arrival(TEN_AM_TUESDAY, 1, 30), Arrival(TEN_AM_WEDNESDAY, 2, 10))


def test_second_lot_finds_the_places_that_the_first_left() -> None:
    board = _board(OvenFacts("O1", places=30, temperature_c=50))
    board.shelve(sku("A"), material(), wound_min=100, spools=25)
    large = sku("B", oven_places=2.0)
    assert board.shelve(large, material(), wound_min=100, spools=3) == (
        Arrival(TEN_AM_TUESDAY, 1, 2),
        Arrival(TEN_AM_WEDNESDAY, 2, 1),
    )


def test_packing_limit_moves_the_rest_to_the_next_morning() -> None:
    board = _board(packing={TEN_AM_TUESDAY: 12})
    found = board.shelve(sku("A"), material(), wound_min=100, spools=20)
    assert found == (Arrival(TEN_AM_TUESDAY, 1, 12), Arrival(TEN_AM_WEDNESDAY, 2, 8))


def test_spools_that_need_no_drying_take_no_oven_place() -> None:
    board = _board(OvenFacts("O1", places=1, temperature_c=50))
    found = board.shelve(sku("A"), material(spool_dry_h=0.0), wound_min=100, spools=20)
    assert found == (Arrival(TEN_AM_TUESDAY, 1, 20),)


def test_fitting_ovens_respect_filament_and_spool() -> None:
    cool, warm = OvenFacts("O1", 10, temperature_c=50), OvenFacts("O2", 10, temperature_c=65)
    hot_range = material(spool_dry_min_c=60, spool_dry_max_c=70)
    assert fitting_ovens([cool, warm], sku("A"), material()) == [cool]
    assert fitting_ovens([cool, warm], sku("A"), hot_range) == [warm]
    # The spool stands 60 degrees only, so neither oven suits as it is set; either can be set for the load.
    assert fitting_ovens([cool, warm], sku("A", max_temp_c=55), hot_range) == [cool, warm]


def test_packing_limits_leave_out_weekdays_without_a_number() -> None:
    assert packing_limits(calendar(), clock=CLOCK, last=LAST) == {}
