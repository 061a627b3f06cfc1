"""Parcels that leave. 2027-03-01 is a Monday; pick-up 16:00."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from inventory.models import Allocation, Balance, Lot, MovementLine, Order, OrderLine, Place, ShelfStock, Shipment
from inventory.order_errors import NotAllocatedError, NotOnShelfError, PartShipmentError, QuantityError
from inventory.services.shipments import ship_order
from tests.inventory.builders import build_supply, clock

MONDAY, TUESDAY, THURSDAY = (date(2027, 3, day) for day in (1, 2, 4))
AFTERNOON = clock("2027-03-01 15:00")


def moved():
    """Lot, spools and far end of what has left, in order."""
    rows = MovementLine.objects.filter(movement__kind="shipment").order_by("id")
    return list(rows.values_list("lot__code", "quantity", "to_place__kind"))


def test_whole_order_ships_and_is_closed(plant, stock, order):
    stock(plant.black_1kg, 5, code="LOT-A")
    placed = order("A", {plant.black_1kg: 3})
    shipment = ship_order(order_id=placed.order_id, clock=AFTERNOON, document="PARCEL-1")
    line = OrderLine.objects.get()
    assert (line.shipped, line.shipped_complete_day) == (3, MONDAY)
    assert (shipment.ship_day, shipment.document, Order.objects.get().state) == (MONDAY, "PARCEL-1", "shipped")
    assert moved() == [("LOT-A", Decimal(3), "customer")]
    shelf = ShelfStock.objects.get(sku=plant.black_1kg)
    assert (shelf.on_shelf, shelf.allocated) == (2, 0)


def test_oldest_lot_leaves_first(plant, stock, order):
    stock(plant.black_1kg, 5, code="LOT-NEW", at="2027-02-26 10:00")
    stock(plant.black_1kg, 2, code="LOT-OLD", at="2027-02-25 10:00")
    placed = order("A", {plant.black_1kg: 3})
    ship_order(order_id=placed.order_id, clock=AFTERNOON)
    assert moved() == [("LOT-OLD", Decimal(2), "customer"), ("LOT-NEW", Decimal(1), "customer")]


def test_each_lot_is_traced_to_the_line_of_its_shipment(plant, stock, order):
    stock(plant.black_1kg, 5)
    stock(plant.natural_1kg, 5)
    placed = order("A", {plant.black_1kg: 3, plant.natural_1kg: 1})
    ship_order(order_id=placed.order_id, clock=AFTERNOON)
    rows = MovementLine.objects.filter(movement__kind="shipment").values_list(
        "item__code", "shipment_line__order_line__line_no", "shipment_line__quantity"
    )
    assert sorted(rows) == [("PETG-NAT-1000", 2, 1), ("PLA-BLACK-1000", 1, 3)]


def test_order_of_own_use_goes_to_own_use(plant, stock, order):
    stock(plant.black_1kg, 5, code="LOT-A")
    placed = order("A", {plant.black_1kg: 3}, kind="own_use")
    ship_order(order_id=placed.order_id, clock=AFTERNOON)
    assert moved() == [("LOT-A", Decimal(3), "own_use")]


def test_order_may_ship_in_parts_and_closes_with_the_last(plant, stock, order):
    stock(plant.black_1kg, 2)
    placed = order("A", {plant.black_1kg: 5}, may_part_ship=True)
    ship_order(order_id=placed.order_id, clock=AFTERNOON)
    line = OrderLine.objects.get()
    assert (line.shipped, line.shipped_complete_day, Order.objects.get().state) == (2, None, "open")
    stock(plant.black_1kg, 5, at="2027-03-02 09:00")
    ship_order(order_id=placed.order_id, clock=clock("2027-03-02 15:00"))
    line.refresh_from_db()
    assert (line.shipped, line.shipped_complete_day, Order.objects.get().state) == (5, TUESDAY, "shipped")


def test_part_of_a_line_ships_and_the_rest_stays_allocated(plant, stock, order):
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 5}, may_part_ship=True)
    ship_order(order_id=placed.order_id, lines={1: 2}, clock=AFTERNOON)
    assert Allocation.objects.get(end="").quantity == 3
    assert (OrderLine.objects.get().shipped, ShelfStock.objects.get(sku=plant.black_1kg).allocated) == (2, 3)


def test_order_that_may_not_part_ship_is_refused_while_something_waits(plant, stock, order):
    stock(plant.black_1kg, 5)
    build_supply(plant, sku=plant.natural_1kg, quantity=5, shelf_day=THURSDAY, code="R-1")
    placed = order("A", {plant.black_1kg: 5, plant.natural_1kg: 2})
    with pytest.raises(PartShipmentError, match="2 of line 2 would stay behind") as caught:
        ship_order(order_id=placed.order_id, clock=AFTERNOON)
    assert (caught.value.code, caught.value.pointer) == ("may_not_part_ship", "/lines")
    assert (Shipment.objects.count(), ShelfStock.objects.get(sku=plant.black_1kg).on_shelf) == (0, 5)


def test_part_of_an_order_that_may_not_part_ship_is_refused(plant, stock, order):
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 5})
    with pytest.raises(PartShipmentError):
        ship_order(order_id=placed.order_id, lines={1: 4}, clock=AFTERNOON)


@pytest.mark.parametrize(
    "wrong",
    [
        ({9: 1}, QuantityError, "/lines/0/line_no"),
        ({1: 0}, QuantityError, "/lines/0/quantity"),
        ({1: 1.5}, QuantityError, "/lines/0/quantity"),
        ({1: 4}, NotAllocatedError, "/lines/0/quantity"),
    ],
)
def test_wrong_lines_are_refused_and_nothing_leaves(plant, stock, order, wrong):
    lines, error, pointer = wrong
    stock(plant.black_1kg, 3)
    placed = order("A", {plant.black_1kg: 5}, may_part_ship=True)
    with pytest.raises(error) as caught:
        ship_order(order_id=placed.order_id, lines=lines, clock=AFTERNOON)
    assert (caught.value.pointer, Shipment.objects.count()) == (pointer, 0)


def test_order_without_spools_on_the_shelf_cannot_ship(plant, order):
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=THURSDAY, code="R-1")
    placed = order("A", {plant.black_1kg: 5}, may_part_ship=True)
    with pytest.raises(NotAllocatedError, match="holds nothing of the shelf"):
        ship_order(order_id=placed.order_id, clock=AFTERNOON)


def test_held_lot_never_ships(plant, stock, order):
    lot = stock(plant.black_1kg, 3)
    placed = order("A", {plant.black_1kg: 3})
    Lot.objects.filter(pk=lot.pk).update(is_held=True)
    with pytest.raises(NotOnShelfError, match="in released lots"):
        ship_order(order_id=placed.order_id, clock=AFTERNOON)
    assert (Shipment.objects.count(), Allocation.objects.get(end="").quantity) == (0, 3)


def test_spools_cannot_leave_before_they_were_on_the_shelf(plant, stock, order):
    stock(plant.black_1kg, 3, at="2027-03-02 09:00")
    placed = order("A", {plant.black_1kg: 3}, at="2027-03-01 09:30")
    with pytest.raises(NotOnShelfError):
        ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    shelf = Balance.objects.get(place__kind=Place.Kind.SHELF)
    assert shelf.quantity == 3
