"""A client that a generator makes of our schema works against the live service, typed answers and problems alike.

The generator is an independent reader of OpenAPI: openapi-python-client, pinned among what the tests need.
"""

from __future__ import annotations

import importlib
import json
import subprocess
import sys

import pytest
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.renderers import OpenApiJsonRenderer

from inventory.models import Order
from stockplan.access.tokens import create_token
from tests.api.calls import put_on_shelf

PACKAGE = "generated_stockplan_client"
BLACK = "PLA-BLACK-1000"
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(scope="module")
def generated(tmp_path_factory):
    """The package, made anew of the schema as it stands; a warning of the generator is a fault."""
    folder = tmp_path_factory.mktemp("client")
    schema = SchemaGenerator().get_schema(request=None, public=True)
    (folder / "schema.json").write_bytes(OpenApiJsonRenderer().render(schema))
    (folder / "config.json").write_text(json.dumps({"post_hooks": []}))
    paths = ["--path", "schema.json", "--config", "config.json", "--output-path", PACKAGE]
    command = [sys.executable, "-m", "openapi_python_client", "generate", *paths, "--meta", "none", "--fail-on-warning"]
    made = subprocess.run(command, cwd=folder, check=False, capture_output=True, text=True)
    assert made.returncode == 0, made.stdout + made.stderr
    sys.path.insert(0, str(folder))
    yield lambda name: importlib.import_module(f"{PACKAGE}.{name}")
    sys.path.remove(str(folder))


@pytest.fixture
def call(generated, live_server, plant):
    """`call("orders.place_order", ...)`: one call of the generated client with a token of one channel."""
    token = create_token(name="client", scopes=["orders", "stock:read"], channel_code="WEB", days=1)
    with generated("client").AuthenticatedClient(base_url=live_server.url, token=token) as client:
        yield lambda name, *args, **more: generated(f"api.{name}").sync_detailed(*args, client=client, **more)


def body_of(generated, reference, quantity, sku=BLACK):
    models = generated("models")
    line = models.OrderLineBody(sku=sku, quantity=quantity)
    return models.OrderBody(reference=reference, lines=[line])


def test_stock_is_read_with_its_types_and_not_again_while_it_stands(call, replay):
    put_on_shelf(replay, BLACK, 5)
    answer = call("stock.list_stock", sku=[BLACK])
    [row] = answer.parsed.results
    assert (answer.status_code, row.sku, row.free, type(row.free)) == (200, BLACK, 5, int)
    again = call("stock.list_stock", sku=[BLACK], if_none_match=answer.headers["ETag"])
    assert again.status_code == 304


def test_order_is_placed_repeated_and_read(generated, call, replay):
    put_on_shelf(replay, BLACK, 5)
    body = body_of(generated, "A-1", 3)
    first, again = (call("orders.place_order", body=body, idempotency_key='"k-1"') for _ in range(2))
    read = call("orders.get_order", first.parsed.id)
    assert (first.status_code, again.status_code, again.parsed) == (201, 201, first.parsed)
    assert (first.parsed.lines[0].from_shelf, read.parsed.lines[0].from_shelf) == (3, 3)
    assert Order.objects.get().reference == "A-1"


def test_orders_in_one_body_are_answered_one_by_one(generated, call, replay):
    put_on_shelf(replay, BLACK, 5)
    bodies = [body_of(generated, "A-1", 3), body_of(generated, "A-2", 1, sku="NO-SUCH")]
    answer = call("orders.place_orders", body=generated("models").OrderBulkBody(orders=bodies))
    placed, refused = answer.parsed.results
    assert (placed.outcome, placed.order.reference, refused.outcome) == ("placed", "A-1", "refused")
    assert (refused.order, refused.error.pointer) == (None, "#/orders/1/lines/0/sku")


def test_problem_is_read_with_the_place_of_the_fault(generated, call):
    answer = call("orders.place_order", body=body_of(generated, "A-1", 3, sku="NO-SUCH"))
    problem = answer.parsed
    assert (answer.status_code, problem.status, problem.code) == (422, 422, "unknown_sku")
    assert [(error.pointer, error.code) for error in problem.errors] == [("#/lines/0/sku", "unknown_sku")]


def test_change_of_an_order_that_moved_meanwhile_is_refused(generated, call, replay):
    put_on_shelf(replay, BLACK, 5)
    placed = call("orders.place_order", body=body_of(generated, "A-1", 3))
    etag = call("orders.get_order", placed.parsed.id).headers["ETag"]
    models = generated("models")
    bodies = [models.PatchedAmendBody(lines=[models.OrderLineBody(sku=BLACK, quantity=spools)]) for spools in (2, 1)]
    answers = [call("orders.amend_order", placed.parsed.id, body=body, if_match=etag) for body in bodies]
    assert [answer.status_code for answer in answers] == [200, 412]
    assert (answers[0].parsed.lines[0].quantity, answers[1].parsed.code) == (2, "order_changed")


def test_caller_without_a_token_hears_a_problem(generated, live_server, plant):
    with generated("client").Client(base_url=live_server.url) as client:
        answer = generated("api.stock.list_stock").sync_detailed(client=client)
    assert (answer.status_code, answer.parsed.code) == (401, "not_authenticated")
