"""Orders over the API. Due days by hand from the tiny plant's week: Monday to Friday, cut-off 13:40 local."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.models import Channel, Order, ShelfStock
from tests.api.calls import MONDAY_9, get, order, patch, post, put_on_shelf
from tests.inventory.builders import build_supply

BLACK = "PLA-BLACK-1000"


def lines(*pairs):
    return [{"sku": sku, "quantity": quantity} for sku, quantity in pairs]


def test_order_before_the_cut_off_is_due_and_promised_today(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    answer = order(replay, "A-1")
    assert (answer["due_day"], answer["ship_day"], answer["reason"]) == ("2027-03-01", "2027-03-01", "")
    line = answer["lines"][0]
    assert (line["from_shelf"], line["from_supply"], line["unpromised"]) == (3, [], 0)


def test_order_exactly_at_the_cut_off_is_due_on_the_next_ship_day(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    assert order(replay, "A-1", at="2027-03-01T13:40:00+01:00")["due_day"] == "2027-03-02"


def test_order_beyond_the_shelf_names_the_run_and_its_day(plant, replay):
    put_on_shelf(replay, BLACK, 2)
    build_supply(plant, sku=plant.black_1kg, quantity=5, shelf_day=date(2027, 3, 3), code="R000777")
    answer = order(replay, "A-1")
    assert answer["lines"][0]["from_shelf"] == 2
    assert answer["lines"][0]["from_supply"] == [{"run": "R000777", "quantity": 1, "ship_day": "2027-03-03"}]
    assert (answer["due_day"], answer["ship_day"]) == ("2027-03-01", "2027-03-03")


def test_order_without_supply_has_no_ship_day_and_a_reason(plant, replay):
    answer = order(replay, "A-1")
    assert answer["ship_day"] is None
    assert BLACK in answer["reason"]
    assert answer["lines"][0]["unpromised"] == 3


def test_wanted_day_moves_the_due_day(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    assert order(replay, "A-1", wanted_day="2027-03-06")["due_day"] == "2027-03-08"  # a Saturday: the Monday after


@pytest.mark.parametrize("at", ["2027-03-01T08:59:59+01:00", "2027-02-01T09:00:00+01:00"])
def test_order_is_neither_changed_nor_shipped_before_it_was_received(plant, replay, at):
    put_on_shelf(replay, BLACK, 10)
    number = order(replay, "A-1")["id"]
    refusals = [
        patch(replay, f"/orders/{number}/", 422, lines=lines((BLACK, 2)), occurred_at=at),
        post(replay, f"/orders/{number}/cancel/", 422, by="shop", occurred_at=at),
        post(replay, "/shipments/", 422, order=number, occurred_at=at),
    ]
    assert [problem["errors"][0]["pointer"] for problem in refusals] == ["#/occurred_at"] * 3
    assert get(replay, f"/orders/{number}/")["lines"][0]["quantity"] == 3


@pytest.mark.parametrize(
    "body",
    [
        '{"channel": "WEB", "channel": "PHONE", "reference": "A-1"}',
        '{"channel": "WEB", "reference": "A-1", "lines": [{"sku": "PLA-BLACK-1000", "quantity": 1, "quantity": 9}]}',
    ],
)
def test_member_that_is_there_twice_is_refused(plant, replay, body):
    answer = replay.post("/api/v1/orders/", body, content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (400, "parse_error")
    assert "is there twice" in answer.json()["detail"]
    assert not Order.objects.exists()


def test_repeat_of_a_reference_answers_the_order_as_it_stands(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    first, again = order(replay, "A-1"), order(replay, "A-1", status=200)
    assert (first["replayed"], again["replayed"], again["id"]) == (False, True, first["id"])
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 3


def test_reference_with_another_body_is_refused_and_changes_nothing(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    order(replay, "A-1")
    problem = order(replay, "A-1", status=409, lines=lines((BLACK, 4)))
    assert (problem["code"], problem["errors"][0]["pointer"]) == ("reference_in_use", "#/reference")
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 3


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (422, {"lines": lines((BLACK, 1), ("NO-SUCH", 1))}, "#/lines/1/sku"),
        (422, {"lines": lines((BLACK, 1), (BLACK, 2))}, "#/lines/1/sku"),
        (400, {"lines": lines((BLACK, 0))}, "#/lines/0/quantity"),
        (400, {"lines": lines((BLACK, -1))}, "#/lines/0/quantity"),
        (400, {"lines": lines((BLACK, 100_001))}, "#/lines/0/quantity"),
        (400, {"lines": lines((BLACK, 1.5))}, "#/lines/0/quantity"),
        (400, {"lines": lines((BLACK, "1"))}, "#/lines/0/quantity"),
        (400, {"lines": lines((BLACK, True))}, "#/lines/0/quantity"),
        (400, {"lines": lines(("pla black", 1))}, "#/lines/0/sku"),
        (400, {"lines": []}, "#/lines"),
        (400, {"lines": lines(*((f"S-{number}", 1) for number in range(101)))}, "#/lines"),
        (400, {"reference": ""}, "#/reference"),
        (400, {"reference": 7}, "#/reference"),
        (400, {"reference": "R" * 65}, "#/reference"),
        (400, {"kind": "gift"}, "#/kind"),
        (400, {"may_part_ship": "yes"}, "#/may_part_ship"),
        (400, {"wanted_day": "1 March"}, "#/wanted_day"),
        (422, {"wanted_day": "1927-03-01"}, "#/wanted_day"),
        (422, {"wanted_day": "2037-03-01"}, "#/wanted_day"),
        (400, {"received_at": "2027-03-01T09:00:00"}, "#/received_at"),
        (422, {"received_at": "1927-03-01T09:00:00Z"}, "#/received_at"),
        (422, {"channel": "NONE"}, "#/channel"),
        (400, {"price": 12}, "#/price"),
    ],
)
def test_order_that_breaks_a_rule_names_the_field_and_changes_nothing(plant, replay, status, change, pointer):
    put_on_shelf(replay, BLACK, 10)
    problem = order(replay, "A-1", status=status, **change)
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert not Order.objects.exists()


def test_order_without_a_channel_is_told_to_name_it(plant, replay):
    problem = post(replay, "/orders/", 422, reference="A-1", lines=lines((BLACK, 1)))
    assert problem["errors"][0]["pointer"] == "#/channel"


def test_received_at_needs_the_scope_replay(plant, live):
    problem = order(live, "A-1", status=403, at=MONDAY_9)
    assert (problem["code"], problem["errors"][0]["pointer"]) == ("replay_needed", "#/received_at")


def test_order_is_read_as_it_was_placed(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    placed = order(replay, "A-1", ship_to="Mill Lane 3, Lowmeadow")
    assert get(replay, f"/orders/{placed['id']}/") == placed


def test_amended_order_keeps_its_due_day(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    placed = order(replay, "A-1")
    amended = patch(
        replay, f"/orders/{placed['id']}/", lines=lines((BLACK, 5)), occurred_at="2027-03-02T09:00:00+01:00"
    )
    assert (amended["due_day"], amended["lines"][0]["quantity"], amended["lines"][0]["from_shelf"]) == (
        "2027-03-01",
        5,
        5,
    )


def test_wanted_day_can_be_withdrawn(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    placed = order(replay, "A-1", wanted_day="2027-03-05")
    amended = patch(replay, f"/orders/{placed['id']}/", wanted_day=None, occurred_at=MONDAY_9)
    assert (amended["wanted_day"], amended["due_day"]) == (None, "2027-03-05")


def test_cancelled_order_gives_its_spools_back_and_is_closed(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    placed = order(replay, "A-1")
    answer = post(replay, f"/orders/{placed['id']}/cancel/", 200, by="customer", occurred_at=MONDAY_9)
    assert answer["state"] == "cancelled"
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 0
    problem = patch(replay, f"/orders/{placed['id']}/", 409, lines=lines((BLACK, 1)), occurred_at=MONDAY_9)
    assert problem["code"] == "order_closed"
    assert "errors" not in problem


def test_unknown_order_is_not_found(plant, replay):
    for problem in (
        get(replay, "/orders/77/", 404),
        patch(replay, "/orders/77/", 404),
        post(replay, "/orders/77/cancel/", 404, by="shop"),
    ):
        assert problem["code"] == "order_not_found"


def test_orders_are_listed_in_pages_that_join_without_gap(plant, replay):
    placed = [order(replay, f"A-{number}")["id"] for number in range(5)]
    first = get(replay, "/orders/", limit=2)
    second = replay.get(first["next"]).json()
    third = replay.get(second["next"]).json()
    assert [row["id"] for page in (first, second, third) for row in page["results"]] == placed
    assert third["next"] is None


def test_page_that_ends_with_the_last_row_has_no_next(plant, replay):
    for number in range(2):
        order(replay, f"A-{number}")
    assert get(replay, "/orders/", limit=2)["next"] is None


def test_orders_are_filtered(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    kept = order(replay, "A-1")
    other = order(replay, "A-2", wanted_day="2027-03-05")
    post(replay, f"/orders/{kept['id']}/cancel/", 200, by="shop", occurred_at=MONDAY_9)
    asked = ({"state": "open"}, {"reference": "A-2"}, {"due_from": "2027-03-02"}, {"due_to": "2027-03-01"})
    found = [[row["id"] for row in get(replay, "/orders/", **query)["results"]] for query in asked]
    assert found == [[other["id"]], [other["id"]], [other["id"]], [kept["id"]]]


def test_order_is_read_as_of_an_instant_before_it_was_cancelled(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    placed = order(replay, "A-1")
    path = f"/orders/{placed['id']}/"
    post(replay, path + "cancel/", 200, by="customer", occurred_at="2027-03-01T11:00:00+01:00")
    before = get(replay, path, as_of="2027-03-01T10:00:00+01:00")
    assert (before["state"], before["lines"][0]["quantity"]) == ("open", 3)
    assert get(replay, path, 404, as_of="2027-03-01T08:00:00+01:00")["code"] == "order_not_found"


def test_token_of_a_channel_posts_to_its_own_channel_only(plant, client_with):
    Channel.objects.create(code="DEALER", name="dealers")
    dealer = client_with("orders", "replay", channel="DEALER")
    assert order(dealer, "D-1", channel="DEALER")["channel"] == "DEALER"
    assert post(dealer, "/orders/", reference="D-2", lines=lines((BLACK, 1)))["channel"] == "DEALER"
    assert order(dealer, "D-3", status=404)["code"] == "not_found"


def test_token_of_a_channel_sees_no_order_of_another(plant, replay, client_with):
    Channel.objects.create(code="DEALER", name="dealers")
    foreign = order(replay, "A-1")["id"]
    dealer = client_with("orders", "ship", channel="DEALER")
    assert get(dealer, "/orders/")["results"] == []
    get(dealer, "/orders/", 404, channel="WEB")
    get(dealer, f"/orders/{foreign}/", 404)
    patch(dealer, f"/orders/{foreign}/", 404, lines=lines((BLACK, 1)))
    post(dealer, f"/orders/{foreign}/cancel/", 404, by="shop")
    assert post(dealer, "/shipments/", 422, order=foreign)["code"] == "order_not_found"
    assert Order.objects.get().state == "open"
