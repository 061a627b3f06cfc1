"""Each constraint of the order tables: what its service does instead, and IntegrityError past it."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.models import (
    Allocation,
    Channel,
    Order,
    OrderLine,
    OrderLineChange,
    RunOutput,
    ShelfStock,
    Shipment,
    ShipmentLine,
)
from inventory.order_errors import (
    ClosedOrderError,
    DuplicateSkuError,
    NotAllocatedError,
    QuantityError,
    ReferenceInUseError,
)
from inventory.rules.order_draft import OrderDraft
from inventory.services.amendments import amend_order, cancel_order
from inventory.services.orders import place_order
from inventory.services.shipments import ship_order
from tests.constraints import refused
from tests.inventory.builders import build_supply, clock, local

AT = local("2027-03-01 10:00")
MONDAY = date(2027, 3, 1)


@pytest.fixture
def line(plant, stock, order):
    stock(plant.black_1kg, 5)
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=MONDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    return OrderLine.objects.get()


@pytest.mark.clean_error_of("order_reference_unique_per_channel")
@pytest.mark.refused_by_database("order_reference_unique_per_channel")
def test_reference_is_unique_in_its_channel(plant, line, order):
    with pytest.raises(ReferenceInUseError):
        order("A", {plant.natural_1kg: 4})
    copy = {"channel": plant.channel, "reference": "A", "received_at": AT, "known_at": AT, "due_day": MONDAY}
    with refused("order_reference_unique_per_channel"):
        Order.objects.create(**copy)


def test_reference_may_repeat_in_another_channel(plant, line):
    other = Channel.objects.create(code="PHONE", name="by phone")
    body = OrderDraft(channel_code=other.code, reference="A", lines=[("PLA-BLACK-1000", 1)])
    assert place_order(body=body, clock=clock("2027-03-01 10:00")).replayed is False


@pytest.mark.refused_by_database("order_closed_has_its_time")
def test_closed_order_has_its_time(line):
    with refused("order_closed_has_its_time"):
        Order.objects.update(state="shipped")
    with refused("order_closed_has_its_time"):
        Order.objects.update(closed_at=AT)


@pytest.mark.refused_by_database("orderline_number_unique_in_order")
def test_line_number_is_unique_in_its_order(plant, line):
    twin = {"order": line.order, "line_no": 1, "sku": plant.natural_1kg, "quantity": 1}
    with refused("orderline_number_unique_in_order"):
        OrderLine.objects.create(**twin)


@pytest.mark.clean_error_of("orderline_sku_unique_in_order")
@pytest.mark.refused_by_database("orderline_sku_unique_in_order")
def test_sku_is_unique_in_its_order(plant, line, order):
    with pytest.raises(DuplicateSkuError):
        amend_order(order_id=line.order_id, lines=[("PLA-BLACK-1000", 1)] * 2, clock=clock("2027-03-01 11:00"))
    twin = {"order": line.order, "line_no": 2, "sku": plant.black_1kg, "quantity": 1}
    with refused("orderline_sku_unique_in_order"):
        OrderLine.objects.create(**twin)


@pytest.mark.clean_error_of("orderline_shipped_within_quantity")
@pytest.mark.refused_by_database("orderline_shipped_within_quantity")
def test_line_ships_no_more_than_its_quantity(line):
    with pytest.raises(NotAllocatedError):
        ship_order(order_id=line.order_id, lines={1: 5}, clock=clock("2027-03-01 15:00"))
    with refused("orderline_shipped_within_quantity"):
        OrderLine.objects.update(shipped=5)


@pytest.mark.refused_by_database("orderlinechange_not_zero")
def test_change_of_a_line_is_not_zero(line):
    change = {"order_line": line, "delta": 0, "reason": "amended", "occurred_at": AT, "known_at": AT}
    with refused("orderlinechange_not_zero"):
        OrderLineChange.objects.create(**change)


@pytest.mark.clean_error_of("orderlinechange_not_zero")
def test_amendment_that_changes_nothing_writes_no_change(line):
    amend_order(order_id=line.order_id, lines=[("PLA-BLACK-1000", 4)], clock=clock("2027-03-01 11:00"))
    assert OrderLineChange.objects.count() == 1


@pytest.mark.refused_by_database("allocation_quantity_positive")
def test_allocation_is_of_one_spool_or_more(line):
    with refused("allocation_quantity_positive"):
        Allocation.objects.update(quantity=0)


@pytest.mark.refused_by_database("allocation_end_has_its_time")
def test_allocation_that_ended_has_its_time(line):
    with refused("allocation_end_has_its_time"):
        Allocation.objects.update(end="released")
    with refused("allocation_end_has_its_time"):
        Allocation.objects.update(ended_at=AT)


@pytest.mark.refused_by_database("allocation_one_live_per_line_from_shelf")
def test_line_has_one_live_allocation_of_the_shelf(line):
    twin = {"order_line": line, "quantity": 1, "created_at": AT, "created_known_at": AT}
    with refused("allocation_one_live_per_line_from_shelf"):
        Allocation.objects.create(**twin)


@pytest.mark.refused_by_database("allocation_one_live_per_line_and_supply")
def test_line_has_one_live_allocation_of_a_supply(line):
    twin = {"order_line": line, "quantity": 1, "created_at": AT, "created_known_at": AT}
    twin["run_output"] = RunOutput.objects.get()
    Allocation.objects.create(**twin)
    with refused("allocation_one_live_per_line_and_supply"):
        Allocation.objects.create(**twin)


@pytest.mark.clean_error_of("shelfstock_allocated_within_shelf")
@pytest.mark.refused_by_database("shelfstock_allocated_within_shelf")
def test_shelf_is_never_promised_twice(plant, line, order):
    # The service promises the sixth spool from the run; the table would refuse it of the shelf.
    second = order("B", {plant.black_1kg: 2})
    assert (second.lines[0].from_shelf, second.lines[0].from_supply[0].quantity) == (1, 1)
    with refused("shelfstock_allocated_within_shelf"):
        ShelfStock.objects.update(allocated=6)


@pytest.mark.clean_error_of("runoutput_allocated_within_awaited")
@pytest.mark.refused_by_database("runoutput_allocated_within_awaited")
def test_supply_is_never_promised_twice(plant, line, order):
    assert order("B", {plant.black_1kg: 9}).lines[0].unpromised == 3
    with refused("runoutput_allocated_within_awaited"):
        RunOutput.objects.update(allocated=6)


@pytest.mark.clean_error_of("shipmentline_quantity_positive")
@pytest.mark.refused_by_database("shipmentline_quantity_positive", "shipmentline_one_per_line")
def test_shipment_names_a_line_once_and_with_spools(line):
    with pytest.raises(QuantityError):
        ship_order(order_id=line.order_id, lines={1: 0}, clock=clock("2027-03-01 15:00"))
    shipment = Shipment.objects.create(order=line.order, ship_day=MONDAY, shipped_at=AT, known_at=AT)
    row = {"shipment": shipment, "order_line": line}
    with refused("shipmentline_quantity_positive"):
        ShipmentLine.objects.create(**row, quantity=0)
    ShipmentLine.objects.create(**row, quantity=1)
    with refused("shipmentline_one_per_line"):
        ShipmentLine.objects.create(**row, quantity=1)


@pytest.mark.clean_error_of("shipmentline_one_per_line")
def test_shipments_of_one_line_are_one_row_each(plant, stock, order):
    stock(plant.black_1kg, 5)
    placed = order("A", {plant.black_1kg: 4}, may_part_ship=True)
    for spools in (1, 3):
        ship_order(order_id=placed.order_id, lines={1: spools}, clock=clock("2027-03-01 15:00"))
    assert sorted(ShipmentLine.objects.values_list("quantity", flat=True)) == [1, 3]


@pytest.mark.clean_error_of("order_closed_has_its_time")
def test_closed_order_is_not_closed_again_by_the_service(line):
    cancel_order(order_id=line.order_id, by="customer", clock=clock("2027-03-01 11:00"))
    order = Order.objects.get()
    assert (order.state, order.closed_at) == ("cancelled", local("2027-03-01 11:00"))
    with pytest.raises(ClosedOrderError):
        cancel_order(order_id=line.order_id, by="shop", clock=clock("2027-03-01 12:00"))


@pytest.mark.clean_error_of("orderline_number_unique_in_order")
def test_line_that_is_added_gets_a_number_of_its_own(plant, line):
    wanted = [("PETG-NAT-1000", 1), ("PLA-BLACK-1000", 4)]
    amend_order(order_id=line.order_id, lines=wanted, clock=clock("2027-03-01 11:00"))
    numbers = dict(OrderLine.objects.values_list("sku__item__code", "line_no"))
    assert numbers == {"PLA-BLACK-1000": 1, "PETG-NAT-1000": 2}


@pytest.mark.clean_error_of("allocation_quantity_positive", "allocation_end_has_its_time")
def test_allocation_that_is_given_back_ends_with_its_time(line):
    amend_order(order_id=line.order_id, lines=[("PLA-BLACK-1000", 3)], clock=clock("2027-03-01 11:00"))
    rows = Allocation.objects.order_by("id").values_list("quantity", "end", "ended_at")
    assert list(rows) == [(4, "released", local("2027-03-01 11:00")), (3, "", None)]


@pytest.mark.clean_error_of("allocation_one_live_per_line_from_shelf", "allocation_one_live_per_line_and_supply")
def test_line_that_grows_keeps_one_live_allocation_of_each_source(line):
    for spools in (7, 8):
        amend_order(order_id=line.order_id, lines=[("PLA-BLACK-1000", spools)], clock=clock("2027-03-01 11:00"))
    live = Allocation.objects.filter(end="").order_by("run_output")
    assert sorted((row.run_output_id is None, row.quantity) for row in live) == [(False, 3), (True, 5)]
