"""The two clocks of a request, on a server whose clock stands at Monday 2027-03-01, 12:00 UTC."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
import time_machine

from inventory.models import Movement, Order
from tests.api.calls import get, order, post
from tests.inventory.builders import put_on_shelf as opening_stock

NOW = datetime(2027, 3, 1, 12, tzinfo=UTC)
BLACK = "PLA-BLACK-1000"


@pytest.fixture(autouse=True)
def server_clock(plant):
    with time_machine.travel(NOW, tick=False):
        yield


def count(client, status=201, **more):
    return post(client, "/counts/", status, item=BLACK, place="shelf", counted=4, reason="cycle", **more)


def clocks():
    return Movement.objects.values_list("occurred_at", "known_at").get()


def test_fact_without_a_time_happened_and_became_known_now(live):
    count(live)
    assert clocks() == (NOW, NOW)


def test_fact_of_the_past_became_known_now_without_replay(live):
    count(live, occurred_at="2027-03-01T10:00:00+01:00")
    assert clocks() == (datetime(2027, 3, 1, 9, tzinfo=UTC), NOW)


def test_fact_of_the_past_became_known_then_with_replay(replay):
    count(replay, occurred_at="2027-03-01T10:00:00+01:00")
    assert clocks() == (datetime(2027, 3, 1, 9, tzinfo=UTC),) * 2


def test_fact_of_the_future_is_refused_without_replay(live):
    problem = count(live, 422, occurred_at="2027-03-01T12:02:01Z")
    assert problem["errors"][0]["pointer"] == "#/occurred_at"
    assert not Movement.objects.exists()


def test_clock_of_a_client_that_is_a_little_fast_is_taken_as_now(live):
    count(live, occurred_at="2027-03-01T12:01:59Z")
    assert clocks() == (NOW, NOW)


def test_order_without_a_time_is_received_now(live):
    order(live, "A-1", at=None)
    # 13:00 in Berlin, before the cut-off at 13:40.
    assert Order.objects.values_list("received_at", "known_at", "due_day").get() == (NOW, NOW, NOW.date())


def test_late_report_does_not_show_in_what_was_known_before(live, replay):
    count(live, occurred_at="2027-03-01T08:00:00Z")
    seen = [
        get(replay, "/stock/", sku=BLACK, as_of=as_of)["results"][0]["on_shelf"]
        for as_of in ("2027-03-01T11:59:00Z", "2027-03-01T12:00:00Z")
    ]
    assert seen == [0, 4]


def test_make_list_of_the_past_needs_the_scope_replay(live):
    problem = post(live, "/make-lists/", 403, as_of="2027-03-01T08:00:00Z")
    assert (problem["code"], problem["errors"][0]["pointer"]) == ("replay_needed", "#/as_of")


def test_report_from_before_the_books_opened_is_refused(plant, replay):
    opening_stock(plant.black_1kg, 5, at="2027-03-01 06:00")
    problem = count(replay, 422, occurred_at="2027-03-01T05:59:59+01:00")
    assert problem["errors"][0]["pointer"] == "#/occurred_at"
    assert "opening stock" in problem["detail"]
    count(replay, occurred_at="2027-03-01T06:00:00+01:00")
