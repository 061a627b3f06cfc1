"""Conditional requests (RFC 9110, 13): 304 for a read that has not changed, 412 for a change of another state."""

from __future__ import annotations

import pytest

from inventory.models import OrderLine
from tests.api.calls import order, patch, put_on_shelf

BLACK = "PLA-BLACK-1000"
LINES = [{"sku": BLACK, "quantity": 2}]


def stock(client, tag=None):
    return client.get("/api/v1/stock/", headers={} if tag is None else {"if-none-match": tag})


def test_stock_that_has_not_changed_is_not_sent_again(plant, live):
    put_on_shelf(live, BLACK, 10, at="2026-03-02T07:00:00+01:00")
    first = stock(live)
    again = stock(live, first["ETag"])
    assert (first.status_code, again.status_code, again.content) == (200, 304, b"")
    assert again["ETag"] == first["ETag"]
    assert first["ETag"].startswith('W/"')


def test_stock_that_has_changed_is_sent_with_another_tag(plant, live):
    before = stock(live)["ETag"]
    put_on_shelf(live, BLACK, 10, at="2026-03-02T07:00:00+01:00")
    after = stock(live, before)
    assert after.status_code == 200
    assert after["ETag"] != before


@pytest.mark.parametrize("tags", ['"other", {tag}', "*", "{strong}"])
def test_one_tag_of_several_is_enough_and_its_weakness_does_not_matter(plant, live, tags):
    tag = stock(live)["ETag"]
    assert stock(live, tags.format(tag=tag, strong=tag.removeprefix("W/"))).status_code == 304


def test_page_of_other_rows_has_another_tag(plant, live):
    whole = stock(live)["ETag"]
    answer = live.get("/api/v1/stock/?limit=1", headers={"if-none-match": whole})
    assert answer.status_code == 200


@pytest.fixture
def placed(plant, replay):
    """An order of three spools: its address and its tag."""
    put_on_shelf(replay, BLACK, 10)
    address = f"/api/v1/orders/{order(replay, 'A-1')['id']}/"
    return address, replay.get(address)["ETag"]


def amend(client, address, tag):
    body = {"lines": LINES, "occurred_at": "2027-03-01T10:00:00+01:00"}
    return client.patch(address, body, format="json", headers={} if tag is None else {"if-match": tag})


def test_order_that_is_as_it_was_read_is_changed(placed, replay):
    address, tag = placed
    answer = amend(replay, address, tag)
    assert (answer.status_code, OrderLine.objects.get().quantity) == (200, 2)
    assert answer["ETag"] == replay.get(address)["ETag"] != tag


def test_order_that_was_changed_since_is_not_changed_again(placed, replay):
    address, tag = placed
    patch(
        replay,
        address.removeprefix("/api/v1"),
        lines=[{"sku": BLACK, "quantity": 5}],
        occurred_at="2027-03-01T09:30:00+01:00",
    )
    answer = amend(replay, address, tag)
    assert (answer.status_code, answer.json()["code"]) == (412, "order_changed")
    assert OrderLine.objects.get().quantity == 5


def test_order_whose_promise_was_taken_since_is_not_changed(placed, replay):
    address, tag = placed
    put_on_shelf(replay, BLACK, 1, at="2027-03-01T09:30:00+01:00")
    assert amend(replay, address, tag).status_code == 412


@pytest.mark.parametrize(("tag", "status"), [(None, 200), ("*", 200), ('"other"', 412), ("W/{tag}", 412)])
def test_condition_of_a_change(placed, replay, tag, status):
    address, current = placed
    assert amend(replay, address, tag and tag.format(tag=current)).status_code == status


def test_tag_of_an_order_is_the_same_for_all_who_read_it(placed, replay, live):
    address, tag = placed
    assert live.get(address)["ETag"] == replay.get(address)["ETag"] == tag
