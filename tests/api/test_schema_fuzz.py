"""The service against its own OpenAPI document, drawn by schemathesis: every check it has, on every operation.

Seeded and bounded to about a minute. It replays its requests in one transaction that is rolled back at the end.
"""

from __future__ import annotations

from urllib.parse import unquote

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, settings

from stockplan.access.models import Scope
from stockplan.access.tokens import create_token
from tests.api.calls import order, put_on_shelf

# 422 is our answer to a request of the right shape whose values the books refuse: a SKU that nobody made, a day
# beyond any calendar. The document cannot know which codes exist, but a 422 is no way out: `refusal_names_its_value`
# wants each to point at a value that the very request sent.
# 304 and 412 are the answers to a condition that the request itself sets.
ACCEPTED = ["2xx", "304", "401", "403", "404", "409", "412", "422"]
CONFIG = {
    "checks": {"positive_data_acceptance": {"expected-statuses": ACCEPTED}},
    "generation": {"with-security-parameters": False},
}


# Members that a request may leave out, but not always.
WANTED_SOMETIMES = {
    ("/api/v1/orders/", "#/channel"): "a token of every channel names the order's",
    ("/api/v1/count-sheets/", "#/skus"): "either SKUs or shelf places are named",
    ("/api/v1/oven-loads/", "#/spools"): "either spools or carts are named",
    ("/api/v1/pack/", "#/spools"): "either spools or a cart is named",
}


@schemathesis.check
def refusal_names_its_value(ctx, response, case):
    """A 422 has a reason, and the reason is a value of this request."""
    if response.status_code != 422:
        return
    problem = response.json()
    places = problem.get("errors") or [{}]
    wanted = {pointer for path, pointer in WANTED_SOMETIMES if path == case.operation.path}
    strangers = [place for place in places if place.get("pointer") not in wanted and not _is_sent(place, case)]
    assert not strangers, f"422 {problem['code']} points at nothing that was sent: {strangers}"


def _is_sent(place, case):
    if "header" in place:
        return place["header"] in (case.headers or {})
    if "parameter" in place:
        return place["parameter"] in (case.query or {})
    value = case.body
    steps = unquote(place.get("pointer", "#/?").removeprefix("#")).split("/")[1:]
    for step in (escaped.replace("~1", "/").replace("~0", "~") for escaped in steps):
        try:
            value = value[int(step)] if isinstance(value, list) else value[step]
        except (KeyError, IndexError, TypeError, ValueError):
            return False
    return True


schema = schemathesis.openapi.from_wsgi(
    "/api/v1/schema/?format=json",
    get_wsgi_application(),
    config=schemathesis.Config.from_dict(CONFIG),
)


@pytest.fixture
def books(plant, replay):
    # In the past, as what is reported without an instant happens now.
    put_on_shelf(replay, "PLA-BLACK-1000", 10, at="2026-03-02T07:00:00+01:00")
    order(replay, "A-1", at="2026-03-02T09:00:00+01:00")


@pytest.fixture
def token(books):
    """A token; while it lives no request closes the connection that holds the test's transaction."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield create_token(name="fuzz", scopes=Scope.values, channel_code=None, days=1, requests_per_minute=60_000)
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@schema.parametrize()
@settings(
    max_examples=20,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.filter_too_much],
)
def test_service_keeps_to_its_document(case, token):
    case.call_and_validate(headers={"Authorization": f"Bearer {token}"})
