"""Tracing over the API: who may, and what of other channels a token sees. The chain itself: tests/inventory/books."""

from __future__ import annotations

import pytest

from inventory.models import Channel
from tests.api.calls import get, order, post, put_on_shelf

BLACK = "PLA-BLACK-1000"
SHIPPED = "2027-03-01T15:00:00+01:00"


@pytest.fixture
def shipped(plant, replay):
    """Orders of two channels that got spools of one lot: their ids and the lot."""
    Channel.objects.create(code="PHONE", name="by phone")
    put_on_shelf(replay, BLACK, 10)
    orders = [order(replay, "A-1")["id"], order(replay, "B-1", channel="PHONE", ship_to="Mill Lane 3")["id"]]
    shipments = [post(replay, "/shipments/", order=number, occurred_at=SHIPPED)["id"] for number in orders]
    lot = get(replay, f"/trace/orders/{orders[0]}/")["spools"][0]["lot"]
    return orders, shipments, lot


def test_trace_of_an_order_names_every_customer_of_its_lots(shipped, replay):
    (first, second), _, lot = shipped
    found = get(replay, f"/trace/orders/{first}/")
    assert [(row["lot"], row["quantity"]) for row in found["spools"]] == [(lot, 3)]
    assert [(row["order"], row["ship_to"]) for row in found["delivered"]] == [(first, ""), (second, "Mill Lane 3")]


def test_trace_of_a_shipment_and_of_its_lot_meet(shipped, replay):
    _, shipments, lot = shipped
    by_shipment, by_lot = get(replay, f"/trace/shipments/{shipments[1]}/"), get(replay, f"/trace/lots/{lot}/")
    assert by_shipment["delivered"] == by_lot["delivered"]
    assert {row["place"]: row["quantity"] for row in by_lot["places"]} == {"CUSTOMER": 6, "SHELF": 4}


def test_trace_for_a_token_of_one_channel_shows_its_own_customers_only(shipped, client_with):
    (first, second), shipments, lot = shipped
    client = client_with("floor", channel="WEB")
    assert [row["order"] for row in get(client, f"/trace/lots/{lot}/")["delivered"]] == [first]
    get(client, f"/trace/orders/{second}/", 404)
    get(client, f"/trace/shipments/{shipments[1]}/", 404)


@pytest.mark.parametrize(("role", "status"), [("floor", 200), ("owner", 200), ("sales", 403), ("planner", 403)])
def test_floor_and_owner_may_trace(shipped, person_of, role, status):
    get(person_of(role), f"/trace/lots/{shipped[2]}/", status)


@pytest.mark.parametrize("path", ["orders/999", "shipments/999", "lots/NO-SUCH", "orders/first"])
def test_trace_of_nothing_known_is_not_found(plant, replay, path):
    assert get(replay, f"/trace/{path}/", 404)["code"] in ("not_found", "order_not_found")


def test_trace_as_of_leaves_out_what_was_learned_later(shipped, replay):
    assert get(replay, f"/trace/lots/{shipped[2]}/", as_of="2027-03-01T14:59:00+01:00")["delivered"] == []


def test_shipment_of_an_order_that_is_not_there_names_the_field(plant, replay):
    problem = post(replay, "/shipments/", 422, order=999)
    assert problem["errors"][0]["pointer"] == "#/order"
