"""Stock that leaves without an order, and spools that come back, over the API."""

from __future__ import annotations

import pytest

from inventory.models import Movement, MovementLine
from tests.api.calls import get, order, post, put_on_shelf
from tests.api.floor.reports import BLACK, START, receive

NOON = "2027-03-01T12:00:00+01:00"
EVENING = "2027-03-01T18:00:00+01:00"


def _shelf(client, at=EVENING):
    row = get(client, "/stock/", sku=BLACK, as_of=at)["results"][0]
    return row["on_shelf"], row["free"]


@pytest.mark.parametrize(
    ("path", "body", "kind"),
    [
        ("/scrap/", {"item": BLACK, "place": "shelf", "reason": "torn"}, "scrap"),
        ("/own-use/", {"sku": BLACK, "reason": "jigs"}, "own_use"),
        ("/samples/", {"sku": BLACK, "reason": "fair"}, "sample"),
    ],
)
def test_what_leaves_without_an_order_is_off_the_shelf(plant, replay, path, body, kind):
    put_on_shelf(replay, BLACK, 5)
    answer = post(replay, path, **body, quantity=2, occurred_at=NOON)
    assert (answer["kind"], answer["reason"]) == (kind, body["reason"])
    assert [(row["item"], row["quantity"], row["from_place"]) for row in answer["lines"]] == [(BLACK, 2.0, "SHELF")]
    assert _shelf(replay) == (3, 3)
    assert _shelf(replay, at=START) == (5, 5)


def test_scrap_of_promised_spools_frees_the_promise(plant, replay):
    put_on_shelf(replay, BLACK, 4)
    placed = order(replay, "A-1", at=START)
    post(replay, "/scrap/", item=BLACK, place="shelf", quantity=2, reason="torn", occurred_at=NOON)
    line = get(replay, f"/orders/{placed['id']}/", as_of=NOON)["lines"][0]
    assert (line["from_shelf"], line["unpromised"]) == (2, 1)


def test_scrap_of_resin_leaves_the_lot_that_is_named(plant, replay):
    receive(replay, "RESIN-PLA", 100, lot="R-1")
    receive(replay, "RESIN-PLA", 100, lot="R-2")
    sent = {"item": "RESIN-PLA", "place": "resin_store", "lot": "R-2", "reason": "wet", "occurred_at": NOON}
    answer = post(replay, "/scrap/", **sent, quantity=0.5)
    assert [(row["lot"], row["quantity"]) for row in answer["lines"]] == [("R-2", 0.5)]


def test_returned_spools_are_for_sale_after_their_inspection(plant, replay):
    put_on_shelf(replay, BLACK, 5)
    placed = order(replay, "A-1", at=START)
    post(replay, "/shipments/", order=placed["id"], occurred_at=NOON)
    lot = MovementLine.objects.get(movement__kind=Movement.Kind.SHIPMENT).lot.code
    back = {"sku": BLACK, "lot": lot, "occurred_at": EVENING}
    answer = post(replay, "/returns/", **back, quantity=2, reason="ordered twice")
    assert [(row["from_place"], row["to_place"]) for row in answer["lines"]] == [("CUSTOMER", "RETURNS")]
    assert _shelf(replay) == (2, 2)
    post(replay, "/returns/restock/", **back, quantity=1)
    post(replay, "/scrap/", item=BLACK, place="returns", quantity=1, reason="opened", occurred_at=EVENING)
    assert _shelf(replay) == (3, 3)


@pytest.mark.parametrize(
    ("path", "change", "status", "pointer"),
    [
        ("/scrap/", {"item": BLACK, "place": "shelf", "quantity": 6}, 409, "#/quantity"),
        ("/scrap/", {"item": BLACK, "place": "shelf", "quantity": 1.5}, 422, "#/quantity"),
        ("/scrap/", {"item": BLACK, "place": "oven", "quantity": 1}, 400, "#/place"),
        ("/scrap/", {"item": "NONE", "place": "shelf", "quantity": 1}, 422, "#/item"),
        ("/scrap/", {"item": BLACK, "place": "shelf", "quantity": 1, "reason": ""}, 400, "#/reason"),
        ("/own-use/", {"sku": "RESIN-PLA", "quantity": 1}, 422, "#/sku"),
        ("/samples/", {"sku": BLACK, "quantity": 0}, 400, "#/quantity"),
        ("/returns/", {"sku": BLACK, "lot": "NONE", "quantity": 1}, 422, "#/lot"),
        ("/returns/restock/", {"sku": BLACK, "quantity": 1}, 400, "#/lot"),
    ],
)
def test_wrong_report_names_its_field_and_changes_nothing(plant, replay, path, change, status, pointer):
    put_on_shelf(replay, BLACK, 5)
    before = Movement.objects.count()
    problem = post(replay, path, status, **({"reason": "torn", "occurred_at": NOON} | change))
    assert problem["errors"][0]["pointer"] == pointer
    assert Movement.objects.count() == before
