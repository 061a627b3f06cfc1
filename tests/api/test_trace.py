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
    lot = get(replay, "/trace/", order=orders[0])["spools"][0]["lot"]
    return orders, shipments, lot


def test_trace_of_an_order_names_every_customer_of_its_lots(shipped, replay):
    (first, second), _, lot = shipped
    found = get(replay, "/trace/", order=first)
    assert [(row["lot"], row["quantity"]) for row in found["spools"]] == [(lot, 3)]
    assert [(row["order"], row["ship_to"]) for row in found["delivered"]] == [(first, ""), (second, "Mill Lane 3")]


def test_trace_of_a_shipment_and_of_its_lot_meet(shipped, replay):
    _, shipments, lot = shipped
    by_shipment, by_lot = get(replay, "/trace/", shipment=shipments[1]), get(replay, "/trace/", lot=lot)
    assert by_shipment["delivered"] == by_lot["delivered"]
    assert {row["place"]: row["quantity"] for row in by_lot["places"]} == {"CUSTOMER": 6, "SHELF": 4}


def test_trace_for_a_token_of_one_channel_shows_its_own_customers_only(shipped, client_with):
    (first, second), shipments, lot = shipped
    client = client_with("floor", channel="WEB")
    assert [row["order"] for row in get(client, "/trace/", lot=lot)["delivered"]] == [first]
    assert get(client, "/trace/", 422, order=second)["errors"][0]["parameter"] == "order"
    assert get(client, "/trace/", 422, shipment=shipments[1])["errors"][0]["parameter"] == "shipment"


@pytest.mark.parametrize(("role", "status"), [("floor", 200), ("owner", 200), ("sales", 403), ("planner", 403)])
def test_floor_and_owner_may_trace(shipped, person_of, role, status):
    get(person_of(role), "/trace/", status, lot=shipped[2])


@pytest.mark.parametrize(
    ("status", "query", "parameters"),
    [
        (400, {}, ["lot"]),
        (400, {"order": 1, "lot": "S1"}, ["lot", "order"]),
        (400, {"order": 0}, ["order"]),
        (400, {"order": "first"}, ["order"]),
        (422, {"order": 999}, ["order"]),
        (422, {"shipment": 999}, ["shipment"]),
        (422, {"lot": "NO-SUCH"}, ["lot"]),
    ],
)
def test_trace_of_nothing_known_names_the_parameter(plant, replay, status, query, parameters):
    problem = get(replay, "/trace/", status, **query)
    assert sorted(error["parameter"] for error in problem["errors"]) == parameters


def test_trace_as_of_leaves_out_what_was_learned_later(shipped, replay):
    assert get(replay, "/trace/", lot=shipped[2], as_of="2027-03-01T14:59:00+01:00")["delivered"] == []


def test_shipment_of_an_order_that_is_not_there_names_the_field(plant, replay):
    problem = post(replay, "/shipments/", 422, order=999)
    assert problem["errors"][0]["pointer"] == "#/order"
