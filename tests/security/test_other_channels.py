"""One integration at what belongs to another (IDOR, CWE-639): every address that names an order or a shipment.

The attacker has a token of its own channel with every scope, and guesses the ids of the other channel's records.
"""

from __future__ import annotations

import json
import re

import pytest
from django.urls import URLPattern, get_resolver
from rest_framework.test import APIClient

from inventory.models import Channel, Order, OrderLineChange
from stockplan.access.models import Scope
from tests.api.calls import get, order, post, put_on_shelf

SHIPPED = "2027-03-01T15:00:00+01:00"
LINES = [{"sku": "PLA-BLACK-1000", "quantity": 1}]
BODIES = {
    "orders/<int:order>/": {"lines": LINES},
    "orders/<int:order>/cancel/": {"by": "customer"},
}


def _patterns() -> list[URLPattern]:
    (api,) = {r.namespace or str(r.pattern) for r in get_resolver().url_patterns if str(r.pattern) == "api/v1/"}
    return [
        pattern
        for resolver in get_resolver().url_patterns
        if str(resolver.pattern) == api
        for pattern in getattr(resolver, "url_patterns", [])
    ]


NAMING = {
    (str(pattern.pattern), method)
    for pattern in _patterns()
    if re.search(r"<int:(order|shipment)>", str(pattern.pattern))
    for method in ("get", "post", "patch", "put", "delete")
    if hasattr(pattern.callback.view_class, method)
}


@pytest.fixture
def theirs(plant, replay) -> dict[str, int]:
    """An order of the channel PHONE, one spool of it shipped, and its shipment."""
    Channel.objects.create(code="PHONE", name="by phone")
    put_on_shelf(replay, "PLA-BLACK-1000", 5)
    placed = order(replay, "B-1", channel="PHONE", ship_to="Mill Lane 3", may_part_ship=True)["id"]
    parcel = {"order": placed, "lines": [{"line_no": 1, "quantity": 1}], "occurred_at": SHIPPED}
    return {"order": placed, "shipment": post(replay, "/shipments/", **parcel)["id"]}


@pytest.fixture
def attacker(client_with) -> APIClient:
    return client_with(*Scope.values, channel="WEB")


def test_there_are_addresses_to_try():
    assert {("orders/<int:order>/", "patch"), ("trace/shipments/<int:shipment>/", "get")} <= NAMING
    assert {address for address, method in NAMING if method != "get"} == set(BODIES)


@pytest.mark.parametrize(("address", "method"), sorted(NAMING))
def test_record_of_another_channel_is_not_there(theirs, attacker, address, method):
    changes = OrderLineChange.objects.count()
    path = re.sub(r"<int:(\w+)>", lambda place: str(theirs[place[1]]), address)
    body = json.dumps(BODIES[address]) if method != "get" else ""
    answer = attacker.generic(method.upper(), f"/api/v1/{path}", body, content_type="application/json")
    assert answer.status_code == 404
    assert "Mill Lane" not in answer.content.decode()
    assert OrderLineChange.objects.count() == changes


def test_order_of_another_channel_is_not_shipped(theirs, attacker):
    post(attacker, "/shipments/", 422, order=theirs["order"], occurred_at=SHIPPED)
    assert Order.objects.get().state == "open"


def test_lists_hold_nothing_of_another_channel(theirs, attacker):
    assert get(attacker, "/orders/")["results"] == []
    assert "Mill Lane" not in str(get(attacker, "/service/", first="2027-03-01", last="2027-03-01"))
    assert get(attacker, "/orders/", 404, channel="PHONE")["code"] == "not_found"


def test_order_for_another_channel_is_not_taken(theirs, attacker):
    order(attacker, "X-1", 404, channel="PHONE")
    assert Order.objects.count() == 1


def test_reference_of_another_channel_tells_nothing_of_its_order(theirs, attacker):
    mine = order(attacker, "B-1")
    assert (mine["channel"], mine["replayed"]) == ("WEB", False)


def test_key_of_another_integration_gives_no_answer_of_it(theirs, attacker, replay):
    body = {"channel": "PHONE", "reference": "B-2", "lines": LINES, "ship_to": "Mill Lane 9"}
    key = {"idempotency-key": '"1"'}
    assert replay.post("/api/v1/orders/", body, format="json", headers=key).status_code == 201
    answer = attacker.post("/api/v1/orders/", body, format="json", headers=key)
    assert answer.status_code in (404, 422)
    assert "Mill Lane" not in answer.content.decode()


def test_trace_of_a_lot_names_no_customer_of_another_channel(theirs, attacker, replay):
    (row,) = get(replay, f"/trace/orders/{theirs['order']}/")["spools"]
    assert get(attacker, f"/trace/lots/{row['lot']}/")["delivered"] == []
