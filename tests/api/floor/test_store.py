"""Receipts, counts, holds and shipments over the API, on the tiny plant."""

from __future__ import annotations

import pytest

from inventory.models import Movement, Shipment
from tests.api.calls import get, order, post, put_on_shelf
from tests.api.floor.reports import BLACK, START, receive


def test_count_of_resin_on_the_shelf_names_the_place(replay, run):
    problem = post(replay, "/counts/", 422, item="RESIN-PLA", place="shelf", counted=5, reason="cycle count")
    assert problem["errors"][0]["pointer"] == "#/place"


def test_shipment_that_names_a_line_twice_is_refused(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    number = order(replay, "A-1", may_part_ship=True)["id"]
    rows = [{"line_no": 1, "quantity": 1}] * 2
    problem = post(replay, "/shipments/", 422, order=number, lines=rows, occurred_at="2027-03-01T15:00:00+01:00")
    assert problem["errors"][0]["pointer"] == "#/lines/1/line_no"
    assert not Shipment.objects.exists()


def test_receipt_says_where_the_lot_lies(plant, replay):
    answer = receive(replay, "RESIN-PLA", 771.125)
    assert (answer["item"], answer["supplier_lot"], answer["is_held"]) == ("RESIN-PLA", "S-1", False)
    assert [row["quantity"] for row in answer["places"]] == [771.125]


def test_receipt_of_an_unknown_item_is_refused(plant, replay):
    assert receive(replay, "RESIN-X", 5, 422)["errors"][0]["pointer"] == "#/item"


def test_receipt_of_nothing_names_the_field_that_was_sent(plant, replay):
    problem = receive(replay, "RESIN-PLA", 0, 422)
    assert problem["errors"][0]["pointer"] == "#/quantity"
    assert "must be a number above 0" in problem["detail"]
    assert not Movement.objects.exists()


def test_count_that_agrees_moves_nothing(plant, replay):
    put_on_shelf(replay, BLACK, 4)
    answer = post(replay, "/counts/", item=BLACK, place="shelf", counted=4, reason="cycle", occurred_at=START)
    assert answer == {"movement": None}


def test_count_below_the_promises_moves_them(plant, replay):
    put_on_shelf(replay, BLACK, 4)
    placed = order(replay, "A-1", at=START)
    answer = post(replay, "/counts/", item=BLACK, place="shelf", counted=2, reason="cycle", occurred_at=START)
    assert answer["movement"]["lines"][0]["quantity"] == 2.0
    line = get(replay, f"/orders/{placed['id']}/", as_of=START)["lines"][0]
    assert (line["from_shelf"], line["unpromised"]) == (2, 1)


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (422, {"item": "NO-SUCH"}, "#/item"),
        (400, {"place": "customer"}, "#/place"),
        (400, {"counted": -1}, "#/counted"),
        (422, {"counted": 1.5}, "#/counted"),
        (422, {"lot": "NO-SUCH"}, "#/lot"),
        (400, {"reason": ""}, "#/reason"),
    ],
)
def test_count_that_breaks_a_rule_names_the_field(plant, replay, status, change, pointer):
    body = {"item": BLACK, "place": "shelf", "counted": 1, "reason": "cycle", "occurred_at": START}
    problem = post(replay, "/counts/", status, **(body | change))
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert not Movement.objects.exists()


def test_held_lot_leaves_the_store_and_comes_back(plant, replay):
    receive(replay, "RESIN-PLA", 5)
    held = post(replay, "/holds/", lot="LOT-RESIN-PLA", reason="damp", occurred_at=START)
    assert (held["is_held"], [row["place"] for row in held["places"]]) == (True, ["HOLD"])
    free = post(replay, "/holds/LOT-RESIN-PLA/release/", 200, reason="dried", occurred_at=START)
    assert (free["is_held"], [row["quantity"] for row in free["places"]]) == (False, [5.0])


def test_hold_of_an_unknown_lot_is_refused(plant, replay):
    assert post(replay, "/holds/", 422, lot="NO-SUCH", reason="damp")["errors"][0]["pointer"] == "#/lot"
    assert post(replay, "/holds/NO-SUCH/release/", 404, reason="dry")["status"] == 404
