"""The service against its own OpenAPI document, drawn by schemathesis: every check it has, on every operation.

Seeded and bounded to about a minute. It replays its requests in one transaction that is rolled back at the end.
"""

from __future__ import annotations

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, settings

from stockplan.access.models import Scope
from stockplan.access.tokens import create_token
from tests.api.calls import order, put_on_shelf

pytestmark = pytest.mark.fuzz

# 422 is our answer to a request of the right shape whose values the books refuse: a SKU that nobody made, a day
# beyond any calendar. The document cannot know which codes exist.
ACCEPTED = ["2xx", "401", "403", "404", "409", "422"]
CONFIG = {
    "checks": {"positive_data_acceptance": {"expected-statuses": ACCEPTED}},
    "generation": {"with-security-parameters": False},
}


schema = schemathesis.openapi.from_wsgi(
    "/api/v1/schema/?format=json",
    get_wsgi_application(),
    config=schemathesis.Config.from_dict(CONFIG),
)


@pytest.fixture
def books(plant, replay):
    put_on_shelf(replay, "PLA-BLACK-1000", 10)
    order(replay, "A-1")


@pytest.fixture
def token(books):
    """A token; while it lives no request closes the connection that holds the test's transaction."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield create_token(name="fuzz", scopes=Scope.values, channel_code=None, days=1)
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
