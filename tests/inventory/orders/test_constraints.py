"""Each constraint of the order tables, refused by the bare ORM; the clean error of its service stands beside it."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import IntegrityError, models, transaction

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
from inventory.order_errors import DuplicateSkuError, NotAllocatedError, QuantityError, ReferenceInUseError
from inventory.rules.order_draft import OrderDraft
from inventory.services.orders import amend_order, place_order
from inventory.services.shipments import ship_order
from tests.inventory.builders import build_supply, clock, local

pytestmark = pytest.mark.database
AT = local("2027-03-01 10:00")
MONDAY = date(2027, 3, 1)


@pytest.fixture
def line(plant, stock, order):
    stock(plant.black_1kg, 5)
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=MONDAY, code="R-1")
    order("A", {plant.black_1kg: 4})
    return OrderLine.objects.get()


def refused(constraint: str, write) -> None:
    """The write breaks exactly this constraint. SQLite names a unique constraint by its columns."""
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        write()
    columns = [
        ", ".join(f"{model._meta.db_table}.{model._meta.get_field(field).column}" for field in rule.fields)
        for model in (Channel, Order, OrderLine, Allocation, ShipmentLine, RunOutput)
        for rule in model._meta.constraints
        if isinstance(rule, models.UniqueConstraint) and rule.name == constraint
    ]
    text = str(caught.value)
    assert constraint in text or any(text.endswith(names) for names in columns)


def test_reference_is_unique_in_its_channel(plant, line, order):
    with pytest.raises(ReferenceInUseError):
        order("A", {plant.natural_1kg: 4})
    copy = {"channel": plant.channel, "reference": "A", "received_at": AT, "known_at": AT, "due_day": MONDAY}
    refused("order_reference_unique_per_channel", lambda: Order.objects.create(**copy))


def test_reference_may_repeat_in_another_channel(plant, line):
    other = Channel.objects.create(code="PHONE", name="by phone")
    body = OrderDraft(channel_code=other.code, reference="A", lines=[("PLA-BLACK-1000", 1)])
    assert place_order(body=body, clock=clock("2027-03-01 10:00")).replayed is False


def test_closed_order_has_its_time(line):
    refused("order_closed_has_its_time", lambda: Order.objects.update(state="shipped"))
    refused("order_closed_has_its_time", lambda: Order.objects.update(closed_at=AT))


def test_line_number_is_unique_in_its_order(plant, line):
    twin = {"order": line.order, "line_no": 1, "sku": plant.natural_1kg, "quantity": 1}
    refused("orderline_number_unique_in_order", lambda: OrderLine.objects.create(**twin))


def test_sku_is_unique_in_its_order(plant, line, order):
    with pytest.raises(DuplicateSkuError):
        amend_order(order_id=line.order_id, lines=[("PLA-BLACK-1000", 1)] * 2, clock=clock("2027-03-01 11:00"))
    twin = {"order": line.order, "line_no": 2, "sku": plant.black_1kg, "quantity": 1}
    refused("orderline_sku_unique_in_order", lambda: OrderLine.objects.create(**twin))


def test_line_ships_no_more_than_its_quantity(line):
    with pytest.raises(NotAllocatedError):
        ship_order(order_id=line.order_id, lines={1: 5}, clock=clock("2027-03-01 15:00"))
    refused("orderline_shipped_within_quantity", lambda: OrderLine.objects.update(shipped=5))


def test_change_of_a_line_is_not_zero(line):
    change = {"order_line": line, "delta": 0, "reason": "amended", "occurred_at": AT, "known_at": AT}
    refused("orderlinechange_not_zero", lambda: OrderLineChange.objects.create(**change))


def test_amendment_that_changes_nothing_writes_no_change(line):
    amend_order(order_id=line.order_id, lines=[("PLA-BLACK-1000", 4)], clock=clock("2027-03-01 11:00"))
    assert OrderLineChange.objects.count() == 1


def test_allocation_is_of_one_spool_or_more(line):
    refused("allocation_quantity_positive", lambda: Allocation.objects.update(quantity=0))


def test_allocation_that_ended_has_its_time(line):
    refused("allocation_end_has_its_time", lambda: Allocation.objects.update(end="released"))
    refused("allocation_end_has_its_time", lambda: Allocation.objects.update(ended_at=AT))


def test_line_has_one_live_allocation_of_the_shelf(line):
    twin = {"order_line": line, "quantity": 1, "created_at": AT, "created_known_at": AT}
    refused("allocation_one_live_per_line_from_shelf", lambda: Allocation.objects.create(**twin))


def test_line_has_one_live_allocation_of_a_supply(line):
    twin = {"order_line": line, "quantity": 1, "created_at": AT, "created_known_at": AT}
    twin["run_output"] = RunOutput.objects.get()
    Allocation.objects.create(**twin)
    refused("allocation_one_live_per_line_and_supply", lambda: Allocation.objects.create(**twin))


def test_shelf_is_never_promised_twice(plant, line, order):
    # The service promises the sixth spool from the run; the table would refuse it of the shelf.
    second = order("B", {plant.black_1kg: 2})
    assert (second.lines[0].from_shelf, second.lines[0].from_supply[0].quantity) == (1, 1)
    refused("shelfstock_allocated_within_shelf", lambda: ShelfStock.objects.update(allocated=6))


def test_supply_is_never_promised_twice(plant, line, order):
    assert order("B", {plant.black_1kg: 9}).lines[0].unpromised == 3
    refused("runoutput_allocated_within_awaited", lambda: RunOutput.objects.update(allocated=6))


def test_shipment_names_a_line_once_and_with_spools(line):
    with pytest.raises(QuantityError):
        ship_order(order_id=line.order_id, lines={1: 0}, clock=clock("2027-03-01 15:00"))
    shipment = Shipment.objects.create(order=line.order, ship_day=MONDAY, shipped_at=AT, known_at=AT)
    row = {"shipment": shipment, "order_line": line}
    refused("shipmentline_quantity_positive", lambda: ShipmentLine.objects.create(**row, quantity=0))
    ShipmentLine.objects.create(**row, quantity=1)
    refused("shipmentline_one_per_line", lambda: ShipmentLine.objects.create(**row, quantity=1))
