"""The order of promising and of giving back, by hand: common practice, no source."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from inventory.rules.allocation import SHELF, Source, Turn, due_first, give_back_first, plan_line, take_in_order

MONDAY, TUESDAY, WEDNESDAY, THURSDAY = (date(2027, 3, day) for day in (1, 2, 3, 4))
NINE, TEN = (datetime(2027, 3, 1, hour, tzinfo=UTC) for hour in (9, 10))


def test_line_takes_the_shelf_first_and_then_the_earliest_supply():
    sources = [Source(7, THURSDAY, 5), Source(8, TUESDAY, 2), Source(SHELF, MONDAY, 3)]
    plan = plan_line(need_spools=6, not_before=MONDAY, sources=sources, held={})
    assert plan.takes == {SHELF: 3, 8: 2, 7: 1}
    assert plan.promised_day == THURSDAY


def test_line_has_no_day_when_not_all_of_it_is_promised():
    plan = plan_line(need_spools=6, not_before=MONDAY, sources=[Source(SHELF, MONDAY, 4)], held={})
    assert (plan.unpromised_spools, plan.promised_day) == (2, None)


def test_line_ships_on_its_due_day_when_the_spools_are_ready_before():
    plan = plan_line(need_spools=1, not_before=THURSDAY, sources=[Source(7, TUESDAY, 1)], held={})
    assert plan.promised_day == THURSDAY


def test_line_keeps_what_it_holds_when_the_shelf_is_no_earlier_for_it():
    sources = [Source(SHELF, MONDAY, 3), Source(7, TUESDAY, 0)]
    plan = plan_line(need_spools=3, not_before=TUESDAY, sources=sources, held={7: 3})
    assert plan.takes == {7: 3}


def test_line_moves_to_the_shelf_when_that_is_earlier_for_it():
    sources = [Source(SHELF, MONDAY, 2), Source(7, TUESDAY, 0)]
    plan = plan_line(need_spools=3, not_before=MONDAY, sources=sources, held={7: 3})
    assert plan.takes == {SHELF: 2, 7: 1}
    assert plan.promised_day == TUESDAY


def test_line_that_needs_nothing_is_promised_for_its_due_day():
    plan = plan_line(need_spools=0, not_before=TUESDAY, sources=[], held={})
    assert (plan.takes, plan.promised_day) == ({}, TUESDAY)


def test_source_refuses_negative_spools():
    with pytest.raises(ValueError, match="must be >= 0, received -1"):
        Source(7, MONDAY, -1)


def test_due_first_serves_by_due_day_then_by_receipt():
    turns = {"late": Turn(TUESDAY, NINE, 1), "second": Turn(MONDAY, TEN, 2), "first": Turn(MONDAY, NINE, 3)}
    assert due_first(turns) == ["first", "second", "late"]


def test_give_back_first_takes_from_the_latest_due_then_the_latest_received():
    turns = {"late": Turn(TUESDAY, NINE, 1), "second": Turn(MONDAY, TEN, 2), "first": Turn(MONDAY, NINE, 3)}
    assert give_back_first(turns) == ["late", "second", "first"]


def test_take_in_order_stops_when_enough_is_taken():
    assert take_in_order(order=["a", "b", "c"], holds={"a": 2, "b": 5, "c": 1}, spools=4) == {"a": 2, "b": 2}


def test_take_in_order_takes_all_when_too_little_is_held():
    assert take_in_order(order=["a"], holds={"a": 2}, spools=4) == {"a": 2}
