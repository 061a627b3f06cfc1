"""Promises that follow the facts. 2027-03-01 is a Monday; pick-up 16:00."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from inventory.models import Allocation, Movement, OrderLine, Place, PromiseChange, RunOutput, ShelfStock
from inventory.services.ledger import LineDraft, place, post_movement
from inventory.services.promises import (
    free_shelf_allocations,
    promise_waiting_lines,
    repromise_run_output,
    shelve_allocations,
)
from tests.inventory.builders import build_supply, clock

MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY = (date(2027, 3, day) for day in (1, 2, 3, 4, 5))


def held(reference):
    """Live spools by source of the first line of an order: the code of a run, or "shelf"."""
    rows = Allocation.objects.filter(order_line__order__reference=reference, end="").select_related("run_output__run")
    return {row.run_output.run.code if row.run_output else "shelf": row.quantity for row in rows}


def promised(reference):
    return OrderLine.objects.get(order__reference=reference).promised_day


def test_waiting_lines_are_served_by_due_day_and_not_by_arrival(plant, stock, order):
    order("LATER", {plant.black_1kg: 3}, wanted_day=WEDNESDAY)
    order("SOONER", {plant.black_1kg: 3})
    stock(plant.black_1kg, 4, at="2027-03-01 11:00")
    assert held("SOONER") == {"shelf": 3}
    assert held("LATER") == {"shelf": 1}
    assert (promised("SOONER"), promised("LATER")) == (MONDAY, None)


def test_waiting_lines_of_one_due_day_are_served_by_arrival(plant, stock, order):
    order("FIRST", {plant.black_1kg: 3}, at="2027-03-01 09:00")
    order("SECOND", {plant.black_1kg: 3}, at="2027-03-01 09:01")
    stock(plant.black_1kg, 3, at="2027-03-01 11:00")
    assert (held("FIRST"), held("SECOND")) == ({"shelf": 3}, {})


def test_waiting_line_is_promised_today_until_the_pick_up_and_not_until_the_cut_off(plant, stock, order):
    order("A", {plant.black_1kg: 1})
    stock(plant.black_1kg, 1, at="2027-03-01 15:59")
    assert promised("A") == MONDAY


def test_waiting_line_is_promised_the_next_day_after_the_pick_up(plant, stock, order):
    order("A", {plant.black_1kg: 1})
    stock(plant.black_1kg, 1, at="2027-03-01 16:01")
    assert promised("A") == TUESDAY


def test_new_promise_of_a_waiting_line_is_told_to_sales(plant, stock, order):
    order("A", {plant.black_1kg: 1})
    stock(plant.black_1kg, 1, at="2027-03-01 11:00")
    change = PromiseChange.objects.get()
    assert (change.old_day, change.new_day, change.cause) == (None, MONDAY, "supply became free")


def test_line_promised_from_a_late_run_moves_to_the_shelf_when_that_becomes_free(plant, stock, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=THURSDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    stock(plant.black_1kg, 3, at="2027-03-01 11:00")
    assert held("A") == {"shelf": 3, "R-1": 1}
    output.refresh_from_db()
    assert output.allocated == 1


def test_line_promised_in_time_from_a_run_leaves_the_shelf_to_others(plant, stock, order):
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=TUESDAY, code="R-1")
    order("A", {plant.black_1kg: 4}, wanted_day=WEDNESDAY)
    stock(plant.black_1kg, 4, at="2027-03-01 11:00")
    assert held("A") == {"R-1": 4}


def test_freeing_takes_from_the_latest_due_then_the_latest_received(plant, stock, order):
    stock(plant.black_1kg, 9)
    order("FIRST", {plant.black_1kg: 3}, at="2027-03-01 09:00")
    order("SECOND", {plant.black_1kg: 3}, at="2027-03-01 09:01")
    order("LATER", {plant.black_1kg: 3}, at="2027-03-01 08:00", wanted_day=TUESDAY)
    free_shelf_allocations(sku_id=plant.black_1kg.pk, must_free=4, clock=clock("2027-03-01 11:00"), cause="counted")
    assert (held("FIRST"), held("SECOND"), held("LATER")) == ({"shelf": 3}, {"shelf": 2}, {})


def test_freed_line_is_promised_from_supply_and_its_move_is_told(plant, stock, order):
    stock(plant.black_1kg, 3)
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=WEDNESDAY, code="R-1")
    order("A", {plant.black_1kg: 3})
    moved = free_shelf_allocations(
        sku_id=plant.black_1kg.pk, must_free=2, clock=clock("2027-03-01 11:00"), cause="counted"
    )
    assert held("A") == {"shelf": 1, "R-1": 2}
    assert [(row.old_day, row.new_day, row.cause) for row in moved] == [(MONDAY, WEDNESDAY, "counted")]
    assert Allocation.objects.filter(end="taken").count() == 1


def test_scrap_below_what_is_allocated_is_accepted_and_frees_the_latest_due(plant, stock, order):
    lot = stock(plant.black_1kg, 6)
    order("SOONER", {plant.black_1kg: 3})
    order("LATER", {plant.black_1kg: 3}, wanted_day=THURSDAY)
    line = LineDraft(plant.black_1kg.pk, lot.pk, Decimal(4), place(Place.Kind.SHELF), place(Place.Kind.SCRAP))
    post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=clock("2027-03-01 11:00"), reason="dropped")
    shelf = ShelfStock.objects.get(sku=plant.black_1kg)
    assert (shelf.on_shelf, shelf.allocated) == (2, 2)
    assert (held("SOONER"), held("LATER")) == ({"shelf": 2}, {})


def test_run_that_slips_moves_its_promises_and_tells_old_and_new_day(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=TUESDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    output.shelf_day = FRIDAY
    moved = repromise_run_output(output, clock=clock("2027-03-01 11:00"), cause="run R-1 slipped")
    assert [(row.old_day, row.new_day, row.cause) for row in moved] == [(TUESDAY, FRIDAY, "run R-1 slipped")]
    assert (promised("A"), held("A")) == (FRIDAY, {"R-1": 4})


def test_line_of_a_run_that_slips_moves_to_an_earlier_run_with_free_spools(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=TUESDAY, code="R-1")
    build_supply(plant, sku=plant.black_1kg, quantity=3, shelf_day=WEDNESDAY, code="R-2")
    order("A", {plant.black_1kg: 4})
    output.shelf_day = FRIDAY
    repromise_run_output(output, clock=clock("2027-03-01 11:00"), cause="run R-1 slipped")
    assert held("A") == {"R-2": 3, "R-1": 1}


def test_run_that_shrinks_takes_from_the_latest_due_order(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=8, shelf_day=TUESDAY, code="R-1")
    order("SOONER", {plant.black_1kg: 4})
    order("LATER", {plant.black_1kg: 4}, wanted_day=THURSDAY)
    output.awaited = 5
    repromise_run_output(output, clock=clock("2027-03-01 11:00"), cause="run R-1 gave fewer")
    output.refresh_from_db()
    assert (output.awaited, output.allocated) == (5, 5)
    assert (held("SOONER"), held("LATER"), promised("LATER")) == ({"R-1": 4}, {"R-1": 1}, None)


def test_run_that_is_cancelled_leaves_its_orders_unpromised(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=TUESDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    output.awaited = 0
    moved = repromise_run_output(output, clock=clock("2027-03-01 11:00"), cause="run R-1 cancelled")
    assert [(row.old_day, row.new_day) for row in moved] == [(TUESDAY, None)]
    assert held("A") == {}


def test_run_that_gives_more_serves_the_lines_that_wait(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=2, shelf_day=TUESDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    output.awaited = 9
    repromise_run_output(output, clock=clock("2027-03-01 11:00"), cause="run R-1 gave more")
    assert (held("A"), promised("A")) == ({"R-1": 4}, TUESDAY)


def test_new_run_serves_the_lines_that_wait(plant, order):
    order("A", {plant.black_1kg: 4})
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=TUESDAY, code="R-1")
    promise_waiting_lines(sku_ids=[plant.black_1kg.pk], clock=clock("2027-03-01 11:00"))
    assert (held("A"), promised("A")) == ({"R-1": 4}, TUESDAY)


def test_late_run_is_promised_for_the_day_of_now_and_not_for_its_past_shelf_day(plant, order):
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=MONDAY, code="R-1")
    assert order("A", {plant.black_1kg: 4}, at="2027-03-03 10:00").ship_day == WEDNESDAY


def test_supply_that_reaches_the_shelf_carries_its_promises_first_due_first(plant, stock, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=8, shelf_day=WEDNESDAY, code="R-1")
    order("LATER", {plant.black_1kg: 4}, wanted_day=THURSDAY)
    order("SOONER", {plant.black_1kg: 4})
    ShelfStock.objects.filter(sku=plant.black_1kg).update(on_shelf=5)
    shelve_allocations(output, quantity=5, clock=clock("2027-03-02 09:00"))
    assert (held("SOONER"), held("LATER")) == ({"shelf": 4}, {"shelf": 1, "R-1": 3})
    assert output.allocated == RunOutput.objects.get(pk=output.pk).allocated == 3
    assert promised("SOONER") == TUESDAY
    assert Allocation.objects.filter(end="shelved").count() == 2


def test_supply_that_is_promised_to_nobody_reaches_the_shelf_free(plant, order):
    output = build_supply(plant, sku=plant.black_1kg, quantity=8, shelf_day=WEDNESDAY, code="R-1")
    ShelfStock.objects.filter(sku=plant.black_1kg).update(on_shelf=5)
    shelve_allocations(output, quantity=5, clock=clock("2027-03-02 09:00"))
    assert (output.allocated, Allocation.objects.count()) == (0, 0)


def test_made_to_order_line_keeps_its_quote_when_its_run_slips(plant, order):
    type(plant.black_1kg).objects.filter(pk=plant.black_1kg.pk).update(is_stocked=False)
    output = build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=TUESDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    output.shelf_day = FRIDAY
    repromise_run_output(output, clock=clock("2027-03-01 11:00"), cause="run R-1 slipped")
    line = OrderLine.objects.get()
    assert (line.quoted_day, line.promised_day) == (TUESDAY, FRIDAY)
