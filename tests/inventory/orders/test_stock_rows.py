"""Stock as sales sees it. 2027-03-01 is a Monday; cut-off 13:40."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.models import Sku
from inventory.selectors.stock import Arrival, stock_rows
from inventory.services.orders import cancel_order
from inventory.services.shipments import ship_order
from tests.inventory.builders import build_supply, clock, local

MONDAY, TUESDAY, WEDNESDAY, THURSDAY = (date(2027, 3, day) for day in (1, 2, 3, 4))
NOON = local("2027-03-01 12:00")


def row_of(sku, **asked):
    return next(row for row in stock_rows(**{"now": NOON, **asked}) if row.sku_id == sku.pk)


def test_row_shows_shelf_allocated_and_free(plant, stock, order):
    stock(plant.black_1kg, 10)
    order("A", {plant.black_1kg: 4})
    row = row_of(plant.black_1kg)
    assert (row.on_shelf, row.allocated, row.free, row.changed_at) == (10, 4, 6, local("2027-03-01 10:00"))


def test_row_describes_its_sku(plant, stock):
    row = row_of(plant.black_1kg)
    assert (row.sku_code, row.colour_name, row.hex, row.material) == ("PLA-BLACK-1000", "Coal", "#1A1A1A", "PLA")
    assert (float(row.diameter_mm), row.net_g, row.is_stocked) == (1.75, 1000, True)


def test_sku_that_was_never_booked_has_no_stock_and_no_change(plant):
    row = row_of(plant.black_1kg)
    assert (row.on_shelf, row.free, row.pipeline, row.next_arrival, row.changed_at) == (0, 0, (), None, None)


def test_pipeline_sums_runs_by_ship_day_with_what_is_free(plant, order):
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=WEDNESDAY, code="R-1")
    build_supply(plant, sku=plant.black_1kg, quantity=4, shelf_day=WEDNESDAY, code="R-2")
    build_supply(plant, sku=plant.black_1kg, quantity=3, shelf_day=THURSDAY, code="R-3")
    order("A", {plant.black_1kg: 7})
    row = row_of(plant.black_1kg)
    assert row.pipeline == (Arrival(WEDNESDAY, 9, 2), Arrival(THURSDAY, 3, 3))
    assert row.next_arrival == WEDNESDAY


def test_supply_that_is_late_is_awaited_today(plant):
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=MONDAY, code="R-1")
    assert row_of(plant.black_1kg, now=local("2027-03-03 10:00")).next_arrival == WEDNESDAY


def test_order_now_ships_today_before_the_cut_off_and_tomorrow_at_it(plant, stock):
    stock(plant.black_1kg, 1)
    assert row_of(plant.black_1kg).order_now_ships_on == MONDAY
    assert row_of(plant.black_1kg, now=local("2027-03-01 13:40")).order_now_ships_on == TUESDAY


def test_order_now_ships_with_the_first_free_arrival_when_the_shelf_is_promised(plant, stock, order):
    stock(plant.black_1kg, 2)
    build_supply(plant, sku=plant.black_1kg, quantity=3, shelf_day=WEDNESDAY, code="R-1")
    build_supply(plant, sku=plant.black_1kg, quantity=3, shelf_day=THURSDAY, code="R-2")
    order("A", {plant.black_1kg: 5})
    assert row_of(plant.black_1kg).order_now_ships_on == THURSDAY


@pytest.mark.parametrize("window", [{"active_from": TUESDAY}, {"active_to": date(2027, 2, 28)}])
def test_order_now_never_ships_while_the_sku_is_not_on_sale(plant, stock, window):
    stock(plant.black_1kg, 2)
    Sku.objects.filter(pk=plant.black_1kg.pk).update(**window)
    assert row_of(plant.black_1kg).order_now_ships_on is None


def test_order_now_ships_on_the_day_that_the_same_order_is_promised(plant, stock, order):
    stock(plant.black_1kg, 2)
    build_supply(plant, sku=plant.black_1kg, quantity=3, shelf_day=WEDNESDAY, code="R-1")
    order("A", {plant.black_1kg: 2})
    said = row_of(plant.black_1kg).order_now_ships_on
    assert said == WEDNESDAY
    assert order("B", {plant.black_1kg: 1}, at="2027-03-01 12:00").ship_day == said


def _codes(**asked):
    return [row.sku_code for row in stock_rows(now=NOON, **asked)]


def test_rows_come_in_the_order_of_their_codes(plant):
    assert _codes() == ["PETG-NAT-1000", "PLA-BLACK-1000", "PLA-BLACK-250"]


def test_search_wants_every_word_in_code_name_colour_or_gtin(plant):
    assert _codes(search="coal 250") == ["PLA-BLACK-250"]
    assert _codes(search="coal natural") == []
    assert _codes(search=plant.natural_1kg.gtin) == ["PETG-NAT-1000"]


def test_search_forgives_a_misspelling_and_puts_what_is_spelled_right_first(plant):
    assert _codes(search="blakc 1000") == ["PLA-BLACK-1000"]
    # Natural is a word of one code; black misspelled would come after it.
    assert _codes(search="natrual") == ["PETG-NAT-1000"]
    plant.natural.colour.name = "Blacken"
    plant.natural.colour.save()
    assert _codes(search="black") == ["PLA-BLACK-1000", "PLA-BLACK-250", "PETG-NAT-1000"]


def test_rows_of_named_skus_only(plant):
    assert _codes(skus=["PLA-BLACK-250", "NO-SUCH"]) == ["PLA-BLACK-250"]


def test_changed_since_shows_orders_and_supply(plant, stock, order):
    stock(plant.black_1kg, 2)
    stock(plant.natural_1kg, 2)
    order("A", {plant.black_1kg: 1})
    assert _codes(changed_since=local("2027-03-01 10:00")) == ["PLA-BLACK-1000"]
    assert _codes(changed_since=local("2027-03-01 10:01")) == []


def test_past_row_knows_only_what_was_known(plant, stock, order):
    stock(plant.black_1kg, 10)
    placed = order("A", {plant.black_1kg: 4})
    ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    at_six, at_ten, at_three = (
        row_of(plant.black_1kg, as_of=local(f"2027-03-01 {hour}")) for hour in ("06:00", "10:00", "15:00")
    )
    assert (at_six.on_shelf, at_six.allocated, at_six.changed_at) == (10, 0, local("2027-03-01 06:00"))
    assert (at_ten.on_shelf, at_ten.allocated, at_ten.changed_at) == (10, 4, local("2027-03-01 10:00"))
    assert (at_three.on_shelf, at_three.allocated) == (6, 0)


def test_past_row_has_given_back_what_ended_at_that_very_instant(plant, stock, order):
    stock(plant.black_1kg, 10)
    placed = order("A", {plant.black_1kg: 4})
    cancel_order(order_id=placed.order_id, by="shop", clock=clock("2027-03-01 11:00"))
    order("B", {plant.black_1kg: 1}, at="2027-03-01 12:00")
    assert row_of(plant.black_1kg, as_of=local("2027-03-01 11:00")).allocated == 0


def test_past_row_shows_the_pipeline_of_then(plant, order):
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=WEDNESDAY, code="R-1")
    placed = order("A", {plant.black_1kg: 4})
    cancel_order(order_id=placed.order_id, by="shop", clock=clock("2027-03-01 11:00"))
    before_run, promised, cancelled = (
        row_of(plant.black_1kg, as_of=local(f"2027-03-01 {hour}")) for hour in ("06:59", "10:00", "11:00")
    )
    assert before_run.pipeline == ()
    assert promised.pipeline == (Arrival(WEDNESDAY, 5, 1),)
    assert cancelled.pipeline == (Arrival(WEDNESDAY, 5, 5),)
