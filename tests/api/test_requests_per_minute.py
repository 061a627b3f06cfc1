"""How often a token may ask: 429 (RFC 6585, section 4) with Retry-After (RFC 9110, section 10.2.3)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.errors import InvalidInputError
from inventory.models import Order
from stockplan.access import throttling
from stockplan.access.models import ApiToken
from stockplan.access.tokens import create_token
from tests.api.calls import order
from tests.constraints import refused

SKUS = "/api/v1/skus/"


def limited(requests: int | None) -> APIClient:
    token = create_token(
        name="shop", scopes=["stock:read", "orders"], channel_code=None, days=1, requests_per_minute=requests
    )
    return APIClient(headers={"authorization": f"Bearer {token}"})


@pytest.fixture(autouse=True)
def clock(plant) -> Iterator[time_machine.Coordinates]:
    with time_machine.travel(timezone.now(), tick=False) as traveller:
        yield traveller


def statuses(client: APIClient, times: int) -> list[int]:
    return [client.get(SKUS).status_code for _ in range(times)]


def test_request_above_the_limit_is_refused_with_the_seconds_to_wait():
    client = limited(3)
    assert statuses(client, 3) == [200, 200, 200]
    answer = client.get(SKUS)
    assert (answer.status_code, answer["Content-Type"]) == (429, "application/problem+json")
    # Three a minute: one every 20 seconds.
    assert (answer["Retry-After"], answer.json()["code"]) == ("20", "throttled")


def test_token_is_let_in_again_after_these_seconds_and_not_before(clock):
    client = limited(3)
    statuses(client, 3)
    clock.shift(timedelta(seconds=19))
    assert (client.get(SKUS)["Retry-After"], statuses(client, 1)) == ("1", [429])
    clock.shift(timedelta(seconds=1))
    assert statuses(client, 2) == [200, 429]
    clock.shift(timedelta(minutes=2))
    assert statuses(client, 4) == [200, 200, 200, 429]


def test_all_processes_count_together(monkeypatch):
    client = limited(120)
    seen = []
    for _ in range(30):
        # Another process knows nothing of what this one has charged.
        monkeypatch.setattr(throttling, "_charged", {})
        seen += statuses(client, 3)
    # Two of a second's worth, whoever asks, and the third charges anew: 60 charges in the minute of the limit.
    assert (seen.count(200), seen[-1]) == (90, 200)
    for _ in range(30):
        monkeypatch.setattr(throttling, "_charged", {})
        seen += statuses(client, 1)
    assert (seen.count(200), seen[-1]) == (90, 429)


def test_another_token_is_not_held_up():
    statuses(limited(1), 2)
    assert statuses(limited(1), 1) == [200]


def test_token_without_a_limit_has_that_of_the_settings(settings):
    settings.REQUESTS_PER_MINUTE = 2
    assert statuses(limited(None), 3) == [200, 200, 429]


def test_person_is_not_counted(person_of, settings):
    settings.REQUESTS_PER_MINUTE = 1
    assert statuses(person_of("sales"), 3) == [200, 200, 200]


def test_refused_order_is_taken_when_it_is_posted_again_with_its_key(clock):
    client = limited(1)
    statuses(client, 1)
    body = {"channel": "WEB", "reference": "A-1", "lines": [{"sku": "PLA-BLACK-1000", "quantity": 1}]}
    headers = {"idempotency-key": "a-1"}
    assert client.post("/api/v1/orders/", body, format="json", headers=headers).status_code == 429
    assert Order.objects.count() == 0
    clock.shift(timedelta(minutes=1))
    assert client.post("/api/v1/orders/", body, format="json", headers=headers).status_code == 201


def test_requests_within_a_seconds_worth_write_nothing_for_it(client_with):
    client = limited(600)
    order(client, "A-1", at=None)
    with CaptureQueriesContext(connection) as captured:
        statuses(client, 9)
    assert [query["sql"] for query in captured if query["sql"].startswith("UPDATE")] == []
    with CaptureQueriesContext(connection) as captured:
        statuses(client, 1)
    assert [query["sql"].split()[1] for query in captured if query["sql"].startswith("UPDATE")] == ['"access_apitoken"']


def test_refusal_writes_nothing():
    client = limited(1)
    statuses(client, 1)
    with CaptureQueriesContext(connection) as captured:
        assert statuses(client, 1) == [429]
    assert [query["sql"] for query in captured if query["sql"].startswith(("UPDATE", "INSERT"))] == []


def test_clock_that_went_back_holds_nobody_up(clock):
    client = limited(1)
    statuses(client, 1)
    clock.shift(timedelta(hours=-1))
    assert statuses(client, 2) == [200, 429]


@pytest.mark.parametrize("requests", [0, -1, 1_000_001])
@pytest.mark.clean_error_of("apitoken_some_requests")
def test_limit_that_lets_nobody_in_is_refused(requests):
    with pytest.raises(InvalidInputError, match=f"1 to 1000000 requests a minute, not {requests}"):
        limited(requests)


@pytest.mark.refused_by_database("apitoken_some_requests")
def test_limit_of_none_is_refused_by_the_database():
    limited(1)
    with refused("apitoken_some_requests"):
        ApiToken.objects.update(requests_per_minute=0)
