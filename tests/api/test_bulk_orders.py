"""Orders posted together: each stands or falls for itself."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Movement, Order, ShelfStock
from tests.api.calls import MONDAY_9, order, post, put_on_shelf

BLACK = "PLA-BLACK-1000"


def one(reference, quantity=3, sku=BLACK, **more):
    lines = [{"sku": sku, "quantity": quantity}]
    return {"channel": "WEB", "reference": reference, "received_at": MONDAY_9, "lines": lines} | more


def test_orders_of_one_body_share_the_shelf_in_their_order(plant, replay):
    put_on_shelf(replay, BLACK, 5)
    results = post(replay, "/orders/bulk/", 200, orders=[one("A-1"), one("A-2"), one("A-3")])["results"]
    assert [row["order"]["lines"][0]["from_shelf"] for row in results] == [3, 2, 0]
    assert [(row["reference"], row["outcome"], row["error"]) for row in results] == [
        ("A-1", "placed", None), ("A-2", "placed", None), ("A-3", "placed", None),
    ]  # fmt: skip
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 5


def test_order_that_is_refused_does_not_stop_the_others_and_says_where(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    order(replay, "A-0")
    orders = [one("A-1", sku="NO-SUCH"), one("A-0"), one("A-0", quantity=4), one("A-2", channel="NO-SUCH"), one("A-3")]
    results = post(replay, "/orders/bulk/", 200, orders=orders)["results"]
    assert [row["outcome"] for row in results] == ["refused", "replayed", "refused", "refused", "placed"]
    faults = [(row["error"]["code"], row["error"]["pointer"]) for row in results if row["error"]]
    assert faults == [
        ("unknown_sku", "#/orders/0/lines/0/sku"),
        ("reference_in_use", "#/orders/2/reference"),
        ("unknown_channel", "#/orders/3/channel"),
    ]
    assert sorted(Order.objects.values_list("reference", flat=True)) == ["A-0", "A-3"]


def test_body_of_the_wrong_shape_is_refused_as_a_whole(plant, replay):
    problem = post(replay, "/orders/bulk/", 400, orders=[one("A-1"), one("A-2", quantity=0)])
    assert [error["pointer"] for error in problem["errors"]] == ["#/orders/1/lines/0/quantity"]
    assert not Order.objects.exists()


@pytest.mark.parametrize("count", [0, 501])
def test_number_of_orders_is_bounded(plant, replay, count):
    post(replay, "/orders/bulk/", 400, orders=[one(f"A-{number}") for number in range(count)])


def test_token_of_one_channel_posts_its_own_orders_only(plant, client_with):
    orders = [{key: value for key, value in one("A-1").items() if key != "received_at"}]
    client = client_with("orders", channel="WEB")
    other = orders[0] | {"channel": "PHONE", "reference": "A-2"}
    results = post(client, "/orders/bulk/", 200, orders=[*orders, other])["results"]
    assert [row["outcome"] for row in results] == ["placed", "refused"]


def test_bulk_under_a_key_is_done_once(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    headers, body = {"idempotency-key": "b"}, {"orders": [one("A-1"), one("A-2")]}
    first, again = (replay.post("/api/v1/orders/bulk/", body, format="json", headers=headers) for _ in range(2))
    assert (first.status_code, again.json()) == (200, first.json())
    assert (Order.objects.count(), Movement.objects.count()) == (2, 1)


def test_orders_that_nothing_covers_ask_the_planner_once_for_all_of_them(plant, live):
    """The planner reads the whole plant: asked for each order, a body of 500 outlasted the patience of a server."""
    rows = [{name: value for name, value in one(f"A-{n}").items() if name != "received_at"} for n in range(24)]
    asked = [_queries_to_post(live, some) for some in (rows[:4], rows[4:8], rows[8:])]
    assert asked[1] == asked[2]
    assert Order.objects.values("received_at").distinct().count() == 3


def _queries_to_post(client, rows):
    with CaptureQueriesContext(connection) as captured:
        post(client, "/orders/bulk/", 200, orders=rows)
    return len(captured)
