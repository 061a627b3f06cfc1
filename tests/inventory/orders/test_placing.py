"""Placing an order: what it gets, when it ships, and what is refused.

Days by hand: 2027-03-01 is a Monday; cut-off 13:40, pick-up 16:00, Monday to Friday.
"""

from __future__ import annotations

from datetime import date

import pytest

from inventory.errors import BooksError
from inventory.models import Allocation, Order, OrderLine, OrderLineChange, RunOutput, ShelfStock, Sku
from inventory.order_errors import (
    DuplicateSkuError,
    LineCountError,
    OrderFieldError,
    QuantityError,
    ReferenceInUseError,
    SkuNotOnSaleError,
    UnknownChannelError,
    UnknownSkuError,
)
from inventory.rules.order_draft import OrderDraft
from inventory.rules.order_receipt import SupplyPromise
from inventory.services.orders import place_order
from tests.inventory.builders import build_supply, clock
from tests.inventory.orders.conftest import CAPACITY_DAY

MONDAY, TUESDAY, WEDNESDAY, THURSDAY = (date(2027, 3, day) for day in (1, 2, 3, 4))


def test_order_ships_today_from_the_shelf_when_it_arrives_before_the_cut_off(plant, stock, order):
    stock(plant.black_1kg, 10)
    receipt = order("A", {plant.black_1kg: 4}, at="2027-03-01 13:39:59")
    assert (receipt.due_day, receipt.ship_day) == (MONDAY, MONDAY)
    assert receipt.lines[0].from_shelf == 4
    assert ShelfStock.objects.get(sku=plant.black_1kg).free == 6


def test_order_is_due_on_the_next_ship_day_exactly_at_the_cut_off(plant, stock, order):
    stock(plant.black_1kg, 10)
    receipt = order("A", {plant.black_1kg: 4}, at="2027-03-01 13:40")
    assert (receipt.due_day, receipt.ship_day) == (TUESDAY, TUESDAY)


def test_order_is_due_on_the_wanted_day_moved_to_a_ship_day(plant, stock, order):
    stock(plant.black_1kg, 10)
    # 2027-03-06 is a Saturday.
    receipt = order("A", {plant.black_1kg: 1}, wanted_day=date(2027, 3, 6))
    assert (receipt.due_day, receipt.ship_day) == (date(2027, 3, 8), date(2027, 3, 8))


def test_order_is_promised_from_a_run_where_the_shelf_is_empty(plant, order):
    build_supply(plant, sku=plant.black_1kg, quantity=20, shelf_day=WEDNESDAY, code="R-1")
    receipt = order("A", {plant.black_1kg: 8})
    assert receipt.ship_day == WEDNESDAY
    assert receipt.lines[0].from_supply == (SupplyPromise("R-1", 8, WEDNESDAY),)
    assert RunOutput.objects.get(run__code="R-1").allocated == 8


def test_order_takes_the_shelf_and_the_earlier_run_before_the_later_one(plant, stock, order):
    stock(plant.black_1kg, 3)
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=THURSDAY, code="R-LATE")
    build_supply(plant, sku=plant.black_1kg, quantity=2, shelf_day=TUESDAY, code="R-SOON")
    line = order("A", {plant.black_1kg: 7}).lines[0]
    assert line.from_shelf == 3
    assert line.from_supply == (SupplyPromise("R-SOON", 2, TUESDAY), SupplyPromise("R-LATE", 2, THURSDAY))
    assert line.promised_day == THURSDAY


def test_two_orders_share_a_run_without_overlap(plant, order):
    build_supply(plant, sku=plant.black_1kg, quantity=10, shelf_day=WEDNESDAY, code="R-1")
    order("A", {plant.black_1kg: 7})
    second = order("B", {plant.black_1kg: 7})
    assert second.lines[0].unpromised == 4
    assert RunOutput.objects.get(run__code="R-1").allocated == 10


def test_order_that_is_due_earlier_takes_nothing_from_one_that_is_promised(plant, stock, order):
    stock(plant.black_1kg, 5)
    order("A", {plant.black_1kg: 5}, wanted_day=THURSDAY)
    late = order("B", {plant.black_1kg: 5})
    assert late.lines[0].unpromised == 5
    assert Allocation.objects.get(end="").order_line.order.reference == "A"


def test_order_names_the_missing_spools_and_the_day_that_capacity_could_give(plant, stock, order):
    stock(plant.black_1kg, 2)
    receipt = order("A", {plant.black_1kg: 5, plant.natural_1kg: 1})
    assert receipt.ship_day is None
    assert receipt.reason == (
        "Neither on the shelf nor in a planned run: 3 of PLA-BLACK-1000, 1 of PETG-NAT-1000 (spools)."
    )
    assert receipt.earliest_capacity_day == CAPACITY_DAY
    assert [line.earliest_capacity_day for line in receipt.lines] == [CAPACITY_DAY, CAPACITY_DAY]


def test_order_has_no_capacity_day_when_the_lines_cannot_make_one_sku(plant, order, settings):
    settings.EARLIEST_CAPACITY_DAY = f"{__name__}.capacity_for_nothing"
    receipt = order("A", {plant.black_1kg: 5})
    assert (receipt.ship_day, receipt.earliest_capacity_day) == (None, None)


def capacity_for_nothing(wanted, *, as_of):
    return dict.fromkeys(wanted)


def test_order_asks_no_planner_when_all_of_it_is_promised(plant, stock, order, settings):
    settings.EARLIEST_CAPACITY_DAY = "no.such.function"
    stock(plant.black_1kg, 5)
    assert order("A", {plant.black_1kg: 5}).ship_day == MONDAY


def test_order_ships_on_the_day_of_its_last_line(plant, stock, order):
    stock(plant.black_1kg, 5)
    build_supply(plant, sku=plant.natural_1kg, quantity=5, shelf_day=THURSDAY, code="R-1")
    receipt = order("A", {plant.black_1kg: 1, plant.natural_1kg: 1}, may_part_ship=True)
    assert [line.promised_day for line in receipt.lines] == [MONDAY, THURSDAY]
    assert receipt.ship_day == THURSDAY


def test_order_has_no_ship_day_while_one_line_is_unpromised(plant, stock, order):
    stock(plant.black_1kg, 5)
    receipt = order("A", {plant.black_1kg: 1, plant.natural_1kg: 1}, may_part_ship=True)
    assert [line.ship_day for line in receipt.lines] == [MONDAY, None]
    assert receipt.ship_day is None


def test_made_to_order_line_keeps_the_first_promised_day_as_its_quote(plant, order):
    Sku.objects.filter(pk=plant.black_1kg.pk).update(is_stocked=False)
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=THURSDAY, code="R-1")
    assert order("A", {plant.black_1kg: 1}).lines[0].quoted_day == THURSDAY


def test_stocked_line_is_not_quoted(plant, stock, order):
    stock(plant.black_1kg, 5)
    assert order("A", {plant.black_1kg: 1}).lines[0].quoted_day is None


def test_order_writes_what_was_ordered_with_both_clocks(plant, stock, order):
    stock(plant.black_1kg, 5)
    order("A", {plant.black_1kg: 2})
    change = OrderLineChange.objects.get()
    at = clock("2027-03-01 10:00")
    clocks = (at.occurred_at, at.known_at)
    assert (change.delta, change.reason, change.occurred_at, change.known_at) == (2, "placed", *clocks)


def test_repeat_of_the_same_body_returns_the_same_order(plant, stock, order):
    stock(plant.black_1kg, 5)
    first = order("A", {plant.black_1kg: 2})
    again = order("A", {plant.black_1kg: 2}, at="2027-03-01 11:00")
    assert (first.replayed, again.replayed) == (False, True)
    assert again.order_id == first.order_id
    assert (again.due_day, again.ship_day, again.lines) == (first.due_day, first.ship_day, first.lines)
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 2


def test_other_body_under_the_same_reference_is_refused(plant, stock, order):
    stock(plant.black_1kg, 5)
    order("A", {plant.black_1kg: 2})
    with pytest.raises(ReferenceInUseError) as caught:
        order("A", {plant.black_1kg: 3})
    assert (caught.value.code, caught.value.pointer) == ("reference_in_use", "/reference")
    assert Order.objects.count() == 1


def _body(plant, lines=None, **fields):
    asked = {"channel_code": "WEB", "reference": "A", "lines": lines or [(plant.black_1kg.item.code, 1)], **fields}
    return OrderDraft(**asked)


def _assert_refused(build, error, pointer):
    with pytest.raises(error) as caught:
        place_order(body=build(), clock=clock("2027-03-01 10:00"))
    assert isinstance(caught.value, BooksError)
    assert caught.value.pointer == pointer
    assert (Order.objects.count(), OrderLine.objects.count(), Allocation.objects.count()) == (0, 0, 0)


def test_unknown_sku_is_refused_with_its_line(plant):
    lines = [("PLA-BLACK-1000", 1), ("NO-SUCH", 1)]
    _assert_refused(lambda: _body(plant, lines), UnknownSkuError, "/lines/1/sku")


@pytest.mark.parametrize("quantity", [0, -1, 100_001, 1.5, "3", True, None])
def test_absurd_quantity_is_refused_with_its_line(plant, quantity):
    lines = [("PLA-BLACK-1000", 1), ("PETG-NAT-1000", quantity)]
    _assert_refused(lambda: _body(plant, lines), QuantityError, "/lines/1/quantity")


def test_greatest_allowed_quantity_is_taken(plant):
    receipt = place_order(body=_body(plant, [("PLA-BLACK-1000", 100_000)]), clock=clock("2027-03-01 10:00"))
    assert receipt.lines[0].unpromised == 100_000


def test_sku_on_two_lines_is_refused(plant):
    lines = [("PLA-BLACK-1000", 1), ("PETG-NAT-1000", 1), ("PLA-BLACK-1000", 2)]
    _assert_refused(lambda: _body(plant, lines), DuplicateSkuError, "/lines/2/sku")


def test_order_without_lines_is_refused(plant):
    _assert_refused(lambda: OrderDraft(channel_code="WEB", reference="A", lines=[]), LineCountError, "/lines")


def test_unknown_channel_is_refused(plant):
    _assert_refused(lambda: _body(plant, channel_code="NOWHERE"), UnknownChannelError, "/channel")


@pytest.mark.parametrize(
    ("field", "value"),
    [("reference", ""), ("reference", "x" * 65), ("reference", "  "), ("kind", "gift"), ("ship_to", "x" * 201)],
)
def test_head_outside_its_limits_is_refused(plant, field, value):
    _assert_refused(lambda: _body(plant, **{field: value}), OrderFieldError, f"/{field}")


def test_wanted_day_too_far_ahead_is_refused(plant):
    # 367 days after 2027-03-01.
    _assert_refused(lambda: _body(plant, wanted_day=date(2028, 3, 2)), OrderFieldError, "/wanted_day")


@pytest.mark.parametrize("window", [{"active_from": TUESDAY}, {"active_to": date(2027, 2, 28)}])
def test_sku_outside_its_days_on_sale_is_refused(plant, window):
    Sku.objects.filter(pk=plant.black_1kg.pk).update(**window)
    _assert_refused(lambda: _body(plant), SkuNotOnSaleError, "/lines/0/sku")


def test_sku_is_sold_on_its_last_day(plant, stock, order):
    stock(plant.black_1kg, 1)
    Sku.objects.filter(pk=plant.black_1kg.pk).update(active_to=MONDAY)
    assert order("A", {plant.black_1kg: 1}).ship_day == MONDAY
