"""No body and no table makes the service fail, half write, or refuse without a word: a sample of `make bench-fuzz`."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, seed, settings

from inventory.selectors.check import check_books
from stockplan.access.models import Scope
from stockplan.access.tokens import create_token
from tests.api.calls import put_on_shelf
from tests.inventory.builders import build_tiny_plant, clock
from tests.laws.strange_input import order_bodies, order_tables
from tests.laws.strange_runs import import_strange_table, post_strange_body

pytestmark = pytest.mark.django_db
SKUS = ["PLA-BLACK-1000", "PETG-NAT-1000"]
SAMPLE = settings(max_examples=150, deadline=None, database=None, suppress_health_check=list(HealthCheck))


@pytest.fixture
def client(db):
    from rest_framework.test import APIClient

    build_tiny_plant()
    token = create_token(name="fuzz", scopes=list(Scope.values), channel_code=None, days=1)
    made = APIClient(headers={"authorization": f"Bearer {token}"})
    put_on_shelf(made, SKUS[0], 500)
    return made


def test_strange_bodies_are_refused_with_a_reason_or_taken_whole(client):
    seen = Counter()

    @seed(1)
    @SAMPLE
    @given(body=order_bodies(skus=SKUS))
    def post(body):
        seen[post_strange_body(client, body)] += 1

    post()
    # The sample reaches both ends of the service, not the parser alone.
    assert seen[201] > 5
    assert seen[400] > 5
    assert check_books() == []


def test_strange_tables_are_refused_with_a_reason_or_taken_whole(client, tmp_path):
    seen = Counter()

    @seed(1)
    @SAMPLE
    @given(content=order_tables(skus=SKUS))
    def load(content):
        seen[import_strange_table(tmp_path / "table.csv", content, clock=clock("2027-03-01 12:00"))] += 1

    load()
    assert seen["imported"] > 5
    assert seen["refused"] > 5
    assert check_books() == []
