"""The service report, every share and reason by hand. 2027-03-01 is a Monday; cut-off 13:40, pick-up 16:00."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.models import Order, Sku
from inventory.rules.service import MissFacts, MissReason, Share, miss_reason
from inventory.selectors.service import service_report
from inventory.services.orders import amend_order, cancel_order
from inventory.services.promises import free_shelf_allocations, repromise_run_output
from inventory.services.shipments import ship_order
from tests.inventory.builders import build_supply, clock, local
from tests.inventory.orders.test_demand import history  # noqa: F401  (a fixture)

MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY = (date(2027, 3, day) for day in (1, 2, 3, 4, 5))
BLACK = "PLA-BLACK-1000"


def report(as_of="2027-03-05 18:00", *, first=MONDAY, last=FRIDAY):
    return service_report(first=first, last=last, as_of=local(as_of))


def the_reason(**asked):
    (miss,) = report(**asked).misses
    return miss.reason


def ship(receipt, at="2027-03-01 15:00"):
    return ship_order(order_id=receipt.order_id, clock=clock(at))


def test_report_measures_units_lines_and_orders_apart(plant, stock, order):
    stock(plant.black_1kg, 8)
    stock(plant.natural_1kg, 1)
    ship(order("WHOLE", {plant.black_1kg: 4}))
    ship(order("PART", {plant.black_1kg: 4, plant.natural_1kg: 3}, may_part_ship=True))
    shares = report().stocked
    # Units: 4 + 4 + 1 of 4 + 4 + 3. Lines: 2 of 3. Orders: 1 of 2.
    assert (shares.units, shares.lines, shares.orders) == (Share(9, 11), Share(2, 3), Share(1, 2))
    assert shares.lines.share == pytest.approx(2 / 3)


def test_report_without_orders_has_no_share(plant):
    assert report().stocked.units.share is None


def test_day_is_not_judged_before_its_pick_up_is_past(plant, order):
    order("A", {plant.black_1kg: 4})
    before, after = report("2027-03-01 16:00"), report("2027-03-01 16:01")
    assert (before.stocked.lines.due, before.not_yet_due_lines) == (0, 1)
    assert (after.stocked.lines.due, after.not_yet_due_lines) == (1, 0)


def test_report_counts_only_days_in_the_window(plant, order):
    order("A", {plant.black_1kg: 4})
    order("B", {plant.black_1kg: 4}, wanted_day=THURSDAY)
    assert report(first=TUESDAY).stocked.lines.due == 1


def test_shipment_after_the_due_day_is_a_miss(plant, stock, order):
    stock(plant.black_1kg, 8)
    ship(order("A", {plant.black_1kg: 4}), at="2027-03-02 15:00")
    assert report().stocked.units == Share(0, 4)


def test_miss_is_judged_by_what_was_known(plant, stock, order):
    stock(plant.black_1kg, 8)
    ship(order("A", {plant.black_1kg: 4}), at="2027-03-01 17:00")
    assert report("2027-03-01 16:30").stocked.units == Share(0, 4)
    assert report("2027-03-01 17:00").stocked.units == Share(4, 4)


def test_cancellation_by_the_customer_before_the_pick_up_removes_the_order(plant, order):
    placed = order("A", {plant.black_1kg: 4})
    cancel_order(order_id=placed.order_id, by="customer", clock=clock("2027-03-01 15:59"))
    assert report().stocked.orders == Share(0, 0)


def test_cancellation_by_the_customer_after_the_day_does_not(plant, order):
    placed = order("A", {plant.black_1kg: 4})
    cancel_order(order_id=placed.order_id, by="customer", clock=clock("2027-03-01 16:00"))
    assert report().stocked.orders == Share(0, 1)


def test_cancellation_by_the_shop_is_a_miss(plant, order):
    placed = order("A", {plant.black_1kg: 4})
    cancel_order(order_id=placed.order_id, by="shop", clock=clock("2027-03-01 11:00"))
    assert report().stocked.units == Share(0, 4)
    assert the_reason() is MissReason.CANCELLED_BY_SHOP


def test_amendment_before_the_pick_up_changes_what_was_wanted(plant, stock, order):
    stock(plant.black_1kg, 3)
    placed = order("A", {plant.black_1kg: 4})
    amend_order(order_id=placed.order_id, lines=[(BLACK, 3)], clock=clock("2027-03-01 11:00"))
    ship(placed)
    assert report().stocked.units == Share(3, 3)


def test_miss_with_nothing_on_the_shelf_and_no_run(plant, order):
    order("A", {plant.black_1kg: 4})
    assert the_reason() is MissReason.NOTHING_PLANNED


def test_miss_of_a_run_that_was_planned_too_late(plant, order):
    build_supply(plant, sku=plant.black_1kg, quantity=9, shelf_day=THURSDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    assert the_reason() is MissReason.PLANNED_LATE


def test_miss_of_a_run_that_came_later_than_promised(plant, order):
    build_supply(plant, sku=plant.black_1kg, quantity=9, shelf_day=MONDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    assert the_reason() is MissReason.SUPPLY_LATE


def test_miss_of_a_run_that_slipped_before_the_day(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=9, shelf_day=TUESDAY, code="R-1")
    order("A", {plant.black_1kg: 4}, wanted_day=TUESDAY)
    output.shelf_day = THURSDAY
    repromise_run_output(output, clock=clock("2027-03-01 12:00"), cause="slipped")
    assert the_reason() is MissReason.SUPPLY_LATE


def test_miss_of_a_run_that_gave_fewer(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=9, shelf_day=MONDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    output.awaited = 1
    repromise_run_output(output, clock=clock("2027-03-01 12:00"), cause="shrunk")
    assert the_reason() is MissReason.SUPPLY_SHORT


def test_miss_of_spools_that_were_lost_after_the_promise(plant, stock, order):
    stock(plant.black_1kg, 4)
    order("A", {plant.black_1kg: 4})
    free_shelf_allocations(sku_id=plant.black_1kg.pk, must_free=2, clock=clock("2027-03-01 12:00"), cause="dropped")
    assert the_reason() is MissReason.LOST


def test_miss_of_spools_that_were_packed_and_stayed(plant, stock, order):
    stock(plant.black_1kg, 4)
    order("A", {plant.black_1kg: 4})
    assert the_reason() is MissReason.NOT_SHIPPED


def test_line_that_waits_for_another_one_is_told_from_the_one_that_lacks(plant, stock, order):
    stock(plant.black_1kg, 4)
    order("A", {plant.black_1kg: 4, plant.natural_1kg: 1})
    assert [miss.reason for miss in report().misses] == [MissReason.WAITED, MissReason.NOTHING_PLANNED]


def test_miss_of_a_customer_who_moved_the_day(plant, stock, order):
    stock(plant.black_1kg, 4)
    placed = order("A", {plant.black_1kg: 4})
    amend_order(order_id=placed.order_id, wanted_day=THURSDAY, clock=clock("2027-03-01 11:00"))
    assert the_reason() is MissReason.MOVED_BY_CUSTOMER


@pytest.mark.parametrize(("shipped", "reason"), [(4, MissReason.ADDED_LATE), (3, MissReason.NOT_SHIPPED)])
def test_miss_of_spools_that_were_added_when_the_day_was_over(plant, stock, order, shipped, reason):
    stock(plant.black_1kg, 9)
    placed = order("A", {plant.black_1kg: 4, plant.black_250g: 1}, may_part_ship=True)
    ship_order(order_id=placed.order_id, lines={1: shipped}, clock=clock("2027-03-01 15:00"))
    lines = [(BLACK, 9), ("PLA-BLACK-250", 1)]
    amend_order(order_id=placed.order_id, lines=lines, clock=clock("2027-03-02 09:00"))
    miss = report().misses[0]
    # 5 of the 9 were asked for when the day was over; with 3 shipped one more was wanted in time, and packed.
    assert (miss.wanted, miss.in_time, miss.reason) == (9, shipped, reason)


def test_reasons_are_counted_by_lines_and_units(plant, order):
    order("A", {plant.black_1kg: 4, plant.natural_1kg: 2})
    (count,) = report().reasons
    assert (count.reason, count.lines, count.units) == (MissReason.NOTHING_PLANNED, 2, 6)
    assert count.sentence == "It was not on the shelf and nothing was planned for it."


def test_made_to_order_line_is_judged_apart_on_its_quoted_day(plant, stock, order):
    Sku.objects.filter(pk=plant.black_1kg.pk).update(is_stocked=False)
    build_supply(plant, sku=plant.black_1kg, quantity=9, shelf_day=WEDNESDAY, code="R-1")
    stock(plant.natural_1kg, 1)
    placed = order("A", {plant.black_1kg: 4, plant.natural_1kg: 1}, may_part_ship=True)
    ship(placed, at="2027-03-01 15:00")
    stock(plant.black_1kg, 4, at="2027-03-02 09:00")
    ship(placed, at="2027-03-03 15:00")
    found = report()
    assert (found.stocked.lines, found.made_to_order.lines) == (Share(1, 1), Share(1, 1))


def test_made_to_order_line_without_a_quote_is_in_no_share(plant, order):
    Sku.objects.filter(pk=plant.black_1kg.pk).update(is_stocked=False)
    order("A", {plant.black_1kg: 4})
    found = report()
    assert (found.made_to_order.lines, found.unquoted_lines) == (Share(0, 0), 1)


def test_own_use_is_no_promise_to_a_customer(plant, order):
    order("A", {plant.black_1kg: 4}, kind="own_use")
    assert report().stocked.lines == Share(0, 0)


@pytest.mark.parametrize(("shipped_day", "in_time"), [(MONDAY, 7), (TUESDAY, 0)])
def test_history_counts_with_the_day_on_which_it_left(history, shipped_day, in_time):  # noqa: F811
    history(shipped_day=shipped_day)
    assert report().stocked.units == Share(in_time, 7)


def test_miss_of_history_has_no_recorded_reason(history):  # noqa: F811
    history(shipped_day=TUESDAY)
    assert the_reason() is MissReason.NOT_RECORDED
    assert Order.objects.get().is_history


def test_reason_is_what_is_certain_before_what_is_left_over():
    facts = MissFacts(missed=2, on_supply=2, was_in_time=True, is_taken_from_shelf=True)
    assert miss_reason(facts) is MissReason.LOST
