"""Reading stock, SKUs and the service report over the API; shipping. Days by hand from the tiny plant's week."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.models import Order, Shipment
from tests.api.calls import MONDAY_9, get, order, post, put_on_shelf
from tests.inventory.builders import build_supply

BLACK = "PLA-BLACK-1000"
NATURAL = "PETG-NAT-1000"
AFTER_PICK_UP = "2027-03-01T16:30:00+01:00"


def stock_of(client, sku, **query):
    return next(row for row in get(client, "/stock/", **query)["results"] if row["sku"] == sku)


def test_stock_shows_shelf_free_and_pipeline(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    order(replay, "A-1")
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=date(2027, 3, 3), code="R000777")
    row = stock_of(replay, BLACK, as_of=MONDAY_9)
    assert (row["on_shelf"], row["allocated"], row["free"]) == (10, 3, 7)
    assert row["pipeline"] == [{"ship_day": "2027-03-03", "quantity": 5, "free": 5}]
    assert (row["next_arrival"], row["order_now_ships_on"]) == ("2027-03-03", "2027-03-01")


def test_stock_is_filtered_by_code_and_words(plant, replay):
    codes = [
        [row["sku"] for row in get(replay, "/stock/", **query)["results"]]
        for query in ({"sku": [BLACK, NATURAL]}, {"search": "natrual"}, {"search": "s250 black"})
    ]
    assert codes == [[NATURAL, BLACK], [NATURAL], ["PLA-BLACK-250"]]


def test_stock_shows_what_changed_since(plant, replay):
    put_on_shelf(replay, BLACK, 10, at="2027-03-01T07:00:00+01:00")
    put_on_shelf(replay, NATURAL, 10, at="2027-03-01T08:00:00+01:00")
    changed = get(replay, "/stock/", changed_since="2027-03-01T07:30:00+01:00")["results"]
    assert [row["sku"] for row in changed] == [NATURAL]


def test_stock_as_of_leaves_out_what_was_learned_later(plant, replay):
    put_on_shelf(replay, BLACK, 10, at="2027-03-01T07:00:00+01:00")
    put_on_shelf(replay, BLACK, 4, at="2027-03-01T12:00:00+01:00")
    assert stock_of(replay, BLACK, as_of="2027-03-01T11:59:00+01:00")["on_shelf"] == 10


def test_stock_comes_in_pages(plant, replay):
    first = get(replay, "/stock/", limit=2)
    second = replay.get(first["next"]).json()
    assert [row["sku"] for row in first["results"] + second["results"]] == [NATURAL, BLACK, "PLA-BLACK-250"]
    assert second["next"] is None


def test_search_comes_in_pages_best_finds_first(plant, replay):
    plant.natural.colour.name = "Blacken"
    plant.natural.colour.save()
    pages = [get(replay, "/stock/", search="black", limit=1)]
    while pages[-1]["next"]:
        pages.append(replay.get(pages[-1]["next"]).json())
    assert [row["sku"] for page in pages for row in page["results"]] == [BLACK, "PLA-BLACK-250", NATURAL]


@pytest.mark.parametrize("path", ["/stock/", "/orders/", "/runs/", "/skus/", "/orders/1/", "/runs/R000001/"])
def test_as_of_needs_the_scope_replay(plant, live, path):
    problem = get(live, path, 403, as_of=MONDAY_9)
    assert (problem["code"], problem["errors"][0]["parameter"]) == ("replay_needed", "as_of")


@pytest.mark.parametrize(
    ("as_of", "status"),
    [
        ("yesterday", 400),
        ("2027-03-01", 400),
        ("2027-03-01T09:00:00", 400),
        ("1027-03-01T09:00Z", 422),
        ("2100-01-01T00:00:00Z", 422),
    ],
)
def test_bad_as_of_is_named(plant, replay, as_of, status):
    assert get(replay, "/stock/", status, as_of=as_of)["errors"][0]["parameter"] == "as_of"


def test_skus_are_listed_with_their_catalogue(plant, replay):
    row = get(replay, "/skus/", search="black", limit=1)["results"][0]
    assert (row["sku"], row["filament"], row["material"], row["hex"]) == (BLACK, "PLA-BLACK-1.75", "PLA", "#1A1A1A")
    assert (row["net_g"], row["diameter_mm"], row["gtin"], row["is_on_sale"]) == (1000, 1.75, "9520000000011", True)


def test_skus_come_in_pages(plant, replay):
    first = get(replay, "/skus/", limit=2)
    second = replay.get(first["next"]).json()
    assert [row["sku"] for row in first["results"] + second["results"]] == [NATURAL, BLACK, "PLA-BLACK-250"]


def test_sku_is_on_sale_on_its_last_day_and_not_after(plant, replay):
    plant.natural_1kg.active_to = date(2027, 3, 1)
    plant.natural_1kg.save()
    on_sale = [
        len(get(replay, "/skus/", material="PETG", on_sale="true", as_of=as_of)["results"])
        for as_of in ("2027-03-01T12:00:00Z", "2027-03-02T12:00:00Z")
    ]
    assert on_sale == [1, 0]


def test_skus_on_sale_are_told_from_those_before_their_first_day(plant, replay):
    before = {"as_of": "2025-12-31T12:00:00Z", "on_sale": "true"}  # on sale from 2026-01-01
    assert get(replay, "/skus/", **before)["results"] == []
    assert len(get(replay, "/skus/", on_sale="true")["results"]) == 3
    assert len(get(replay, "/skus/", material="PETG")["results"]) == 1


def test_shipped_order_is_closed_and_its_spools_are_gone(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    placed = order(replay, "A-1")
    answer = post(replay, "/shipments/", order=placed["id"], document="WB 1", occurred_at="2027-03-01T15:00:00+01:00")
    assert (answer["order_state"], answer["ship_day"], answer["document"]) == ("shipped", "2027-03-01", "WB 1")
    assert answer["lines"] == [{"line_no": 1, "sku": BLACK, "quantity": 3, "is_complete": True}]
    assert stock_of(replay, BLACK)["on_shelf"] == 7


def test_order_ships_in_parts_only_if_it_may(plant, replay):
    put_on_shelf(replay, BLACK, 2)
    build_supply(plant, sku=plant.black_1kg, quantity=9, shelf_day=date(2027, 3, 3), code="R000777")
    whole, part = order(replay, "A-1"), order(replay, "A-2", may_part_ship=True)
    assert post(replay, "/shipments/", 409, order=whole["id"], occurred_at=MONDAY_9)["code"] == "may_not_part_ship"
    assert post(replay, "/shipments/", 409, order=part["id"], occurred_at=MONDAY_9)["code"] == "not_allocated"
    post(replay, f"/orders/{whole['id']}/cancel/", 200, by="customer", occurred_at=MONDAY_9)
    answer = post(replay, "/shipments/", order=part["id"], lines=[{"line_no": 1, "quantity": 1}], occurred_at=MONDAY_9)
    assert (answer["order_state"], answer["lines"][0]["is_complete"]) == ("open", False)


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (422, {"lines": [{"line_no": 2, "quantity": 1}]}, "#/lines/0/line_no"),
        (409, {"lines": [{"line_no": 1, "quantity": 4}]}, "#/lines/0/quantity"),
        (400, {"lines": [{"line_no": 1, "quantity": 0}]}, "#/lines/0/quantity"),
        (400, {"order": "1"}, "#/order"),
        (400, {"carrier": "x"}, "#/carrier"),
    ],
)
def test_shipment_that_breaks_a_rule_names_the_field(plant, replay, status, change, pointer):
    put_on_shelf(replay, BLACK, 10)
    body = {"order": order(replay, "A-1")["id"], "occurred_at": MONDAY_9}
    problem = post(replay, "/shipments/", status, **(body | change))
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert not Shipment.objects.exists()


def test_closed_order_cannot_ship(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    placed = order(replay, "A-1")
    post(replay, "/shipments/", order=placed["id"], occurred_at=MONDAY_9)
    assert post(replay, "/shipments/", 409, order=placed["id"], occurred_at=MONDAY_9)["code"] == "order_closed"
    assert Order.objects.get().state == "shipped"


def test_service_report_counts_what_shipped_on_its_day(plant, replay):
    put_on_shelf(replay, BLACK, 5)
    kept = order(replay, "A-1")
    order(replay, "A-2", lines=[{"sku": BLACK, "quantity": 2}])
    post(replay, "/shipments/", order=kept["id"], occurred_at="2027-03-01T15:00:00+01:00")
    report = get(replay, "/service/", first="2027-03-01", last="2027-03-01", as_of=AFTER_PICK_UP)
    assert report["stocked"]["units"] == {"complete": 3, "due": 5, "share": 0.6}
    assert report["stocked"]["orders"] == {"complete": 1, "due": 2, "share": 0.5}
    # A-2 lay on the shelf, but nobody shipped it.
    assert [(miss["reference"], miss["reason"]) for miss in report["misses"]] == [("A-2", "not_shipped")]
    assert report["made_to_order"]["lines"] == {"complete": 0, "due": 0, "share": None}


@pytest.mark.parametrize(
    ("query", "status", "parameter"),
    [
        ({"first": "2027-03-01"}, 400, "last"),
        ({"first": "2027-03-02", "last": "2027-03-01"}, 422, "first"),
        ({"first": "1927-03-02", "last": "2027-03-01"}, 422, "first"),
        ({"first": "2020-03-02", "last": "2027-03-01"}, 422, "last"),
        ({"first": "2027-02-30", "last": "2027-03-01"}, 400, "first"),
    ],
)
def test_service_report_names_the_bad_parameter(plant, replay, query, status, parameter):
    problem = get(replay, "/service/", status, **query)
    assert [error["parameter"] for error in problem["errors"]] == [parameter]
