"""Webhooks: which facts are told, with what, and to whom."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.db import transaction

from inventory.models import Channel, PromiseChange, WebhookDelivery, WebhookEndpoint, WebhookMessage
from inventory.rules.order_draft import OrderDraft
from inventory.services.counts import post_count
from inventory.services.holds import hold_lot, release_lot
from inventory.services.orders import place_order
from inventory.services.runs import reschedule_run
from inventory.services.shipments import ship_order
from inventory.services.webhook_delivery import Delivered
from tests.inventory.books.floor import KG
from tests.inventory.books.receiver import Receiver
from tests.inventory.books.webhooks import LATER, MONDAY, deliver, hold, listen
from tests.inventory.builders import TinyPlant, build_supply, local, put_on_shelf

pytestmark = pytest.mark.django_db


def test_held_and_released_lot_are_told(plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver) -> None:
    hold(plant)
    release_lot(lot_code="S1", clock=LATER, reason="remeasured")
    assert deliver() == Delivered(delivered=2, failed=0, given_up=0)
    assert [(said["type"], said["data"]) for said in receiver.bodies] == [
        ("lot.held", {"lot": "S1", "item": KG, "reason": "diameter"}),
        ("lot.released", {"lot": "S1", "item": KG, "reason": "remeasured"}),
    ]
    assert receiver.bodies[0]["timestamp"] == MONDAY.known_at.isoformat()


def test_shipped_order_is_told(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver, order: Callable[..., int]
) -> None:
    put_on_shelf(plant.black_1kg, 5)
    number = order("A", {plant.black_1kg: 3})
    shipment = ship_order(order_id=number, clock=LATER, document="WB 1")
    deliver()
    [said] = receiver.bodies
    assert said["type"] == "order.shipped"
    assert said["data"] == {
        "order": number,
        "channel": "WEB",
        "reference": "A",
        "shipment": shipment.pk,
        "ship_day": "2027-03-01",
        "document": "WB 1",
        "state": "shipped",
        "lines": [{"line_no": 1, "sku": KG, "quantity": 3}],
    }


def test_moved_promise_is_told_with_both_days(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver, order: Callable[..., int]
) -> None:
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=date(2027, 3, 3), code="R1")
    number = order("A", {plant.black_1kg: 3})
    start, end = local("2027-03-08 08:00"), local("2027-03-08 14:00")
    reschedule_run(run_code="R1", planned_start=start, planned_end=end, clock=LATER, reason="no crew")
    deliver()
    [said] = receiver.bodies
    data = said["data"]
    assert (said["type"], data["order"], data["reference"], data["sku"]) == ("order.promise_moved", number, "A", KG)
    # Wound on Monday, in the oven overnight, packed on Tuesday.
    assert (data["old_day"], data["new_day"], data["cause"]) == ("2027-03-03", "2027-03-09", "no crew")


def test_placed_order_tells_nobody(plant: TinyPlant, listening: WebhookEndpoint, order: Callable[..., int]) -> None:
    put_on_shelf(plant.black_1kg, 5)
    order("A", {plant.black_1kg: 3})
    assert WebhookMessage.objects.count() == 0


def test_fact_that_is_rolled_back_is_told_to_nobody(plant: TinyPlant, listening: WebhookEndpoint) -> None:
    with transaction.atomic():
        hold(plant)
        transaction.set_rollback(True)
    assert WebhookMessage.objects.count() == 0


def test_receiver_is_told_only_of_what_it_asked_for(plant: TinyPlant, receiver: Receiver) -> None:
    listen(receiver, events=["lot.released"])
    hold(plant)
    release_lot(lot_code="S1", clock=LATER, reason="remeasured")
    deliver()
    assert [said["type"] for said in receiver.bodies] == ["lot.released"]


def test_receiver_of_a_channel_hears_of_its_orders_and_of_no_lots(
    plant: TinyPlant, receiver: Receiver, order: Callable[..., int]
) -> None:
    Channel.objects.create(code="FAIR", name="fair")
    listen(receiver, channel_code="FAIR")
    put_on_shelf(plant.black_1kg, 5)
    ship_order(order_id=order("A", {plant.black_1kg: 3}), clock=LATER)
    hold(plant)
    assert WebhookMessage.objects.count() == 0
    listen(receiver, name="web", channel_code="WEB")
    put_on_shelf(plant.natural_1kg, 5)
    ship_order(order_id=order("B", {plant.natural_1kg: 3}), clock=LATER)
    assert [row.endpoint.name for row in WebhookDelivery.objects.all()] == ["web"]


def test_nobody_listening_costs_one_query(plant: TinyPlant, queries_of: Callable[..., int], receiver: Receiver) -> None:
    for code in ("S1", "S2", "S3"):
        put_on_shelf(plant.black_1kg, 5, lot_code=code)
    held = partial(hold_lot, clock=MONDAY, reason="diameter")
    queries_of(partial(held, lot_code="S1"))
    without = queries_of(partial(held, lot_code="S2"))
    listen(receiver)
    assert queries_of(partial(held, lot_code="S3")) == without + 2


def test_what_is_kept_for_a_visitor_is_told_to_nobody(
    plant: TinyPlant, listening: WebhookEndpoint, receiver: Receiver
) -> None:
    put_on_shelf(plant.black_1kg, 5)
    until = MONDAY.occurred_at + timedelta(hours=1)
    draft = OrderDraft("WEB", "K-1", [(KG, 5)], kind="kept", kept_until=until)
    place_order(body=draft, clock=MONDAY)
    # Four of the five kept spools are lost: the promise of what is kept moves.
    post_count(place_kind="shelf", counted=Decimal(1), clock=MONDAY, sku_code=KG)
    assert PromiseChange.objects.filter(order_line__order__reference="K-1").exists()
    deliver()
    assert receiver.bodies == []
