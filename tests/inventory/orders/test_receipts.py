"""Orders read as they stand and as of a past instant. 2027-03-01 is a Monday."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.order_errors import UnknownOrderError
from inventory.selectors.orders import moved_promises, order_receipt, order_receipts
from inventory.services.orders import amend_order, cancel_order
from inventory.services.promises import repromise_run_output
from inventory.services.shipments import ship_order
from tests.inventory.builders import build_supply, clock, local

MONDAY, TUESDAY, THURSDAY = (date(2027, 3, day) for day in (1, 2, 4))


def test_fresh_receipt_equals_the_answer_of_placing(plant, stock, order):
    stock(plant.black_1kg, 2)
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=THURSDAY, code="R-1")
    placed = order("A", {plant.black_1kg: 4, plant.natural_1kg: 1})
    fresh = order_receipt(placed.order_id)
    assert [line.from_supply for line in fresh.lines] == [line.from_supply for line in placed.lines]
    assert (fresh.reason, fresh.ship_day, fresh.due_day) == (placed.reason, placed.ship_day, placed.due_day)


def test_past_receipt_shows_the_promise_of_then(plant, stock, order):
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=THURSDAY, code="R-1")
    placed = order("A", {plant.black_1kg: 4})
    stock(plant.black_1kg, 4, at="2027-03-02 09:00")
    before = order_receipt(placed.order_id, as_of=local("2027-03-02 08:59"))
    after = order_receipt(placed.order_id, as_of=local("2027-03-02 09:00"))
    assert (before.ship_day, before.lines[0].from_shelf, before.lines[0].from_supply[0].quantity) == (THURSDAY, 0, 4)
    assert (after.ship_day, after.lines[0].from_shelf, after.lines[0].from_supply) == (TUESDAY, 4, ())


def test_past_receipt_shows_the_first_promise_when_it_moved_twice(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=TUESDAY, code="R-1")
    placed = order("A", {plant.black_1kg: 4})
    for day, at in ((THURSDAY, "2027-03-01 11:00"), (date(2027, 3, 5), "2027-03-01 12:00")):
        output.shelf_day = day
        repromise_run_output(output, clock=clock(at), cause="slipped")
    days = [order_receipt(placed.order_id, as_of=local(f"2027-03-01 {at}")).ship_day for at in ("10:00", "11:30")]
    assert days == [TUESDAY, THURSDAY]


def test_past_receipt_knows_no_later_amendment(plant, stock, order):
    stock(plant.black_1kg, 9)
    placed = order("A", {plant.black_1kg: 4})
    lines = [("PLA-BLACK-1000", 7), ("PETG-NAT-1000", 1)]
    amend_order(order_id=placed.order_id, lines=lines, clock=clock("2027-03-01 11:00"))
    past = order_receipt(placed.order_id, as_of=local("2027-03-01 10:59"))
    assert [(line.line_no, line.quantity, line.from_shelf) for line in past.lines] == [(1, 4, 4)]


def test_past_receipt_is_open_before_its_shipment_was_known(plant, stock, order):
    stock(plant.black_1kg, 9)
    placed = order("A", {plant.black_1kg: 4})
    ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    past = order_receipt(placed.order_id, as_of=local("2027-03-01 14:59"))
    now = order_receipt(placed.order_id, as_of=local("2027-03-01 15:00"))
    assert (past.state, past.lines[0].shipped, past.lines[0].from_shelf) == ("open", 0, 4)
    assert (now.state, now.lines[0].shipped, now.lines[0].shipped_complete_day) == ("shipped", 4, MONDAY)


def test_order_is_unknown_before_it_was_placed(plant, order):
    placed = order("A", {plant.black_1kg: 4})
    with pytest.raises(UnknownOrderError):
        order_receipt(placed.order_id, as_of=local("2027-03-01 09:59"))


def test_list_of_orders_filters_by_state_and_due_day(plant, order):
    order("A", {plant.black_1kg: 1})
    cancelled = order("B", {plant.black_1kg: 1})
    order("C", {plant.black_1kg: 1}, wanted_day=THURSDAY)
    cancel_order(order_id=cancelled.order_id, by="shop", clock=clock("2027-03-01 11:00"))
    assert [row.reference for row in order_receipts(state="open")] == ["A", "C"]
    assert [row.reference for row in order_receipts(state="cancelled")] == ["B"]
    assert [row.reference for row in order_receipts(due_from=TUESDAY)] == ["C"]
    assert [row.reference for row in order_receipts(due_to=MONDAY, channel="WEB")] == ["A", "B"]


def test_list_of_orders_knows_the_states_of_then(plant, order):
    placed = order("A", {plant.black_1kg: 1})
    cancel_order(order_id=placed.order_id, by="shop", clock=clock("2027-03-01 11:00"))
    then = local("2027-03-01 10:30")
    assert [row.state for row in order_receipts(state="open", as_of=then)] == ["open"]
    assert order_receipts(state="cancelled", as_of=then) == []


def test_list_of_orders_goes_on_after_an_id(plant, order):
    first = order("A", {plant.black_1kg: 1})
    order("B", {plant.black_1kg: 1})
    order("C", {plant.black_1kg: 1})
    assert [row.reference for row in order_receipts(after_id=first.order_id, limit=1)] == ["B"]


def test_moved_promises_tell_old_and_new_day_since_an_instant(plant, stock, order):
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=THURSDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    stock(plant.black_1kg, 4, at="2027-03-02 09:00")
    (moved,) = moved_promises(since=local("2027-03-02 09:00"))
    assert (moved.reference, moved.line_no, moved.sku_code) == ("A", 1, "PLA-BLACK-1000")
    assert (moved.old_day, moved.new_day) == (THURSDAY, TUESDAY)
    assert moved_promises(since=local("2027-03-02 09:01")) == []
    assert moved_promises(since=local("2027-03-02 09:00"), as_of=local("2027-03-02 08:59")) == []
