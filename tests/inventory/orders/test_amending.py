"""Amending and cancelling. 2027-03-01 is a Monday; cut-off 13:40."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.models import Allocation, Order, OrderLine, OrderLineChange, PromiseChange, RunOutput, ShelfStock, Sku
from inventory.order_errors import (
    BelowShippedError,
    ClosedOrderError,
    DuplicateSkuError,
    LineCountError,
    OrderFieldError,
    QuantityError,
    SkuNotOnSaleError,
    UnknownOrderError,
    UnknownSkuError,
)
from inventory.services.orders import amend_order, cancel_order
from inventory.services.shipments import ship_order
from tests.inventory.builders import build_supply, clock

MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY = (date(2027, 3, day) for day in (1, 2, 3, 4, 5))
BLACK, QUARTER, NATURAL = "PLA-BLACK-1000", "PLA-BLACK-250", "PETG-NAT-1000"
ELEVEN = clock("2027-03-01 11:00")


def deltas():
    rows = OrderLineChange.objects.order_by("id").values_list("order_line__line_no", "delta", "reason")
    return list(rows)


def test_more_spools_are_promised_like_a_new_order(plant, stock, order):
    stock(plant.black_1kg, 10)
    placed = order("A", {plant.black_1kg: 3})
    receipt = amend_order(order_id=placed.order_id, lines=[(BLACK, 5)], clock=ELEVEN)
    assert (receipt.lines[0].quantity, receipt.lines[0].from_shelf, receipt.ship_day) == (5, 5, MONDAY)
    assert deltas() == [(1, 3, "placed"), (1, 2, "amended")]


def test_amending_after_the_cut_off_keeps_the_due_day_and_promises_the_next_ship_day(plant, stock, order):
    stock(plant.black_1kg, 10)
    placed = order("A", {plant.black_1kg: 3})
    receipt = amend_order(order_id=placed.order_id, lines=[(BLACK, 5)], clock=clock("2027-03-01 13:41"))
    assert (receipt.due_day, receipt.ship_day) == (MONDAY, TUESDAY)


def test_fewer_spools_go_back_from_the_latest_supply_first(plant, stock, order):
    stock(plant.black_1kg, 2)
    build_supply(plant, sku=plant.black_1kg, quantity=2, shelf_day=TUESDAY, code="R-1")
    build_supply(plant, sku=plant.black_1kg, quantity=2, shelf_day=THURSDAY, code="R-2")
    placed = order("A", {plant.black_1kg: 6})
    receipt = amend_order(order_id=placed.order_id, lines=[(BLACK, 3)], clock=ELEVEN)
    line = receipt.lines[0]
    assert (line.from_shelf, [(row.run_code, row.quantity) for row in line.from_supply]) == (2, [("R-1", 1)])
    assert receipt.ship_day == TUESDAY


def test_fewer_spools_stay_on_the_shelf_when_the_run_is_in_time_too(plant, stock, order):
    stock(plant.black_1kg, 2)
    build_supply(plant, sku=plant.black_1kg, quantity=2, shelf_day=TUESDAY, code="R-1")
    placed = order("A", {plant.black_1kg: 4}, wanted_day=FRIDAY)
    receipt = amend_order(order_id=placed.order_id, lines=[(BLACK, 2)], clock=ELEVEN)
    assert (receipt.lines[0].from_shelf, receipt.lines[0].from_supply) == (2, ())


def test_what_an_amendment_gives_back_serves_the_line_that_waits(plant, stock, order):
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 5})
    order("B", {plant.black_1kg: 2})
    amend_order(order_id=placed.order_id, lines=[(BLACK, 3)], clock=ELEVEN)
    waiting = OrderLine.objects.get(order__reference="B")
    assert waiting.promised_day == MONDAY
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 5


def test_lines_are_added_and_dropped_and_keep_their_numbers(plant, stock, order):
    stock(plant.black_1kg, 5)
    stock(plant.natural_1kg, 5)
    placed = order("A", {plant.black_1kg: 2, plant.black_250g: 1})
    receipt = amend_order(order_id=placed.order_id, lines=[(NATURAL, 4), (BLACK, 2)], clock=ELEVEN)
    assert [(line.line_no, line.sku_code, line.quantity) for line in receipt.lines] == [
        (1, BLACK, 2),
        (2, QUARTER, 0),
        (3, NATURAL, 4),
    ]
    assert receipt.ship_day == MONDAY


def test_dropped_line_can_come_back(plant, stock, order):
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 2, plant.black_250g: 1})
    amend_order(order_id=placed.order_id, lines=[(QUARTER, 1)], clock=ELEVEN)
    receipt = amend_order(order_id=placed.order_id, lines=[(QUARTER, 1), (BLACK, 4)], clock=ELEVEN)
    assert [(line.line_no, line.quantity, line.from_shelf) for line in receipt.lines] == [(1, 4, 4), (2, 1, 0)]


def test_later_wanted_day_moves_the_promise_and_not_the_due_day(plant, stock, order):
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 2})
    receipt = amend_order(order_id=placed.order_id, wanted_day=THURSDAY, clock=ELEVEN)
    assert (receipt.due_day, receipt.wanted_day, receipt.ship_day) == (MONDAY, THURSDAY, THURSDAY)
    assert PromiseChange.objects.get().cause == "the order was amended"


def test_earlier_wanted_day_does_not_move_the_due_day(plant, stock, order):
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 2}, wanted_day=THURSDAY)
    receipt = amend_order(order_id=placed.order_id, wanted_day=TUESDAY, clock=ELEVEN)
    assert (receipt.due_day, receipt.ship_day) == (THURSDAY, THURSDAY)


def test_wanted_day_can_be_withdrawn(plant, stock, order):
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 2}, wanted_day=THURSDAY)
    receipt = amend_order(order_id=placed.order_id, wanted_day=None, clock=ELEVEN)
    assert (receipt.wanted_day, receipt.due_day) == (None, THURSDAY)


def test_amendment_to_what_has_shipped_closes_the_order(plant, stock, order):
    stock(plant.black_1kg, 2)
    placed = order("A", {plant.black_1kg: 5}, may_part_ship=True)
    ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    receipt = amend_order(order_id=placed.order_id, lines=[(BLACK, 2)], clock=clock("2027-03-02 09:00"))
    assert (receipt.state, receipt.lines[0].shipped_complete_day, receipt.ship_day) == ("shipped", MONDAY, MONDAY)


def test_amendment_below_what_has_shipped_is_refused(plant, stock, order):
    stock(plant.black_1kg, 2)
    placed = order("A", {plant.black_1kg: 5}, may_part_ship=True)
    ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    with pytest.raises(BelowShippedError) as caught:
        amend_order(order_id=placed.order_id, lines=[(BLACK, 1)], clock=clock("2027-03-02 09:00"))
    assert caught.value.pointer == "/lines/0/quantity"
    assert OrderLine.objects.get().quantity == 5


def test_dropping_a_line_that_has_shipped_is_refused(plant, stock, order):
    stock(plant.black_1kg, 2)
    placed = order("A", {plant.black_1kg: 5, plant.black_250g: 1}, may_part_ship=True)
    ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    with pytest.raises(BelowShippedError) as caught:
        amend_order(order_id=placed.order_id, lines=[(QUARTER, 1)], clock=clock("2027-03-02 09:00"))
    assert caught.value.pointer == "/lines"


@pytest.mark.parametrize(
    "wrong",
    [
        ([], LineCountError, "/lines"),
        ([(BLACK, 2), ("NO-SUCH", 1)], UnknownSkuError, "/lines/1/sku"),
        ([(BLACK, 2), (BLACK, 1)], DuplicateSkuError, "/lines/1/sku"),
        ([(QUARTER, 1), (BLACK, 0)], QuantityError, "/lines/1/quantity"),
        ([(BLACK, 100_001)], QuantityError, "/lines/0/quantity"),
    ],
)
def test_wrong_lines_are_refused_and_nothing_changes(plant, stock, order, wrong):
    lines, error, pointer = wrong
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 2})
    with pytest.raises(error) as caught:
        amend_order(order_id=placed.order_id, lines=lines, wanted_day=THURSDAY, clock=ELEVEN)
    assert caught.value.pointer == pointer
    assert (deltas(), Order.objects.get().wanted_day) == ([(1, 2, "placed")], None)


def test_sku_that_left_the_range_may_stay_but_not_grow(plant, stock, order):
    stock(plant.black_1kg, 9)
    placed = order("A", {plant.black_1kg: 4, plant.black_250g: 1})
    Sku.objects.filter(pk=plant.black_1kg.pk).update(active_to=date(2027, 2, 28))
    assert amend_order(order_id=placed.order_id, lines=[(BLACK, 3)], clock=ELEVEN).lines[0].quantity == 3
    with pytest.raises(SkuNotOnSaleError) as caught:
        amend_order(order_id=placed.order_id, lines=[(QUARTER, 1), (BLACK, 4)], clock=ELEVEN)
    assert caught.value.pointer == "/lines/1/sku"


def test_wanted_day_too_far_ahead_is_refused(plant, stock, order):
    placed = order("A", {plant.black_1kg: 2})
    with pytest.raises(OrderFieldError) as caught:
        amend_order(order_id=placed.order_id, wanted_day=date(2028, 3, 2), clock=ELEVEN)
    assert caught.value.pointer == "/wanted_day"


def test_order_that_does_not_exist_is_refused(plant):
    with pytest.raises(UnknownOrderError) as caught:
        amend_order(order_id=4711, lines=[(BLACK, 1)], clock=ELEVEN)
    assert caught.value.code == "order_not_found"


def test_cancelled_order_gives_back_all_it_held_and_serves_those_that_wait(plant, stock, order):
    stock(plant.black_1kg, 3)
    build_supply(plant, sku=plant.black_1kg, quantity=2, shelf_day=THURSDAY, code="R-1")
    placed = order("A", {plant.black_1kg: 5})
    order("B", {plant.black_1kg: 4})
    receipt = cancel_order(order_id=placed.order_id, by="customer", clock=ELEVEN)
    assert (receipt.state, receipt.ship_day, receipt.reason) == ("cancelled", None, "The order is cancelled.")
    waiting = OrderLine.objects.get(order__reference="B")
    assert waiting.promised_day == THURSDAY
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 3
    assert RunOutput.objects.get().allocated == 1
    assert not Allocation.objects.filter(order_line__order_id=placed.order_id, end="").exists()


@pytest.mark.parametrize("by", ["customer", "shop"])
def test_cancellation_notes_who_cancelled(plant, order, by):
    placed = order("A", {plant.black_1kg: 5, plant.natural_1kg: 1})
    cancel_order(order_id=placed.order_id, by=by, clock=ELEVEN)
    assert deltas()[2:] == [(1, -5, f"cancelled_by_{by}"), (2, -1, f"cancelled_by_{by}")]
    row = Order.objects.get()
    assert (row.state, row.cancelled_by, row.closed_at) == ("cancelled", by, ELEVEN.occurred_at)


def test_cancellation_of_the_rest_closes_a_part_shipped_order_as_shipped(plant, stock, order):
    stock(plant.black_1kg, 2)
    placed = order("A", {plant.black_1kg: 5}, may_part_ship=True)
    ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    receipt = cancel_order(order_id=placed.order_id, by="shop", clock=clock("2027-03-02 09:00"))
    assert (receipt.state, receipt.lines[0].quantity, receipt.lines[0].shipped) == ("shipped", 2, 2)


def test_cancellation_by_somebody_else_is_refused(plant, order):
    placed = order("A", {plant.black_1kg: 5})
    with pytest.raises(OrderFieldError) as caught:
        cancel_order(order_id=placed.order_id, by="nobody", clock=ELEVEN)
    assert caught.value.pointer == "/by"
    assert Order.objects.get().state == "open"


@pytest.mark.parametrize(
    "change",
    [
        lambda order_id: amend_order(order_id=order_id, lines=[(BLACK, 1)], clock=ELEVEN),
        lambda order_id: cancel_order(order_id=order_id, by="shop", clock=ELEVEN),
        lambda order_id: ship_order(order_id=order_id, clock=ELEVEN),
    ],
)
def test_closed_order_cannot_change(plant, order, change):
    placed = order("A", {plant.black_1kg: 5})
    cancel_order(order_id=placed.order_id, by="customer", clock=ELEVEN)
    before = deltas()
    with pytest.raises(ClosedOrderError) as caught:
        change(placed.order_id)
    assert (caught.value.code, caught.value.pointer, deltas()) == ("order_closed", "/order", before)
