"""The OpenAPI document and its page. Reference: OpenAPI Specification 3.1.1, by openapi-spec-validator."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from openapi_spec_validator import OpenAPIV31SpecValidator

SCHEMA = "/api/v1/schema/"
DOCS = "/api/v1/docs/"
OPERATIONS = {
    ("/api/v1/orders/", "get"),
    ("/api/v1/orders/", "post"),
    ("/api/v1/orders/bulk/", "post"),
    ("/api/v1/orders/{order}/", "get"),
    ("/api/v1/orders/{order}/", "patch"),
    ("/api/v1/orders/{order}/cancel/", "post"),
    ("/api/v1/stock/", "get"),
    ("/api/v1/stock/changes/", "get"),
    ("/api/v1/skus/", "get"),
    ("/api/v1/make-lists/", "post"),
    ("/api/v1/make-lists/what-if/", "post"),
    ("/api/v1/make-lists/order/", "post"),
    ("/api/v1/make-lists/latest/", "get"),
    ("/api/v1/make-lists/{make_list}/", "get"),
    ("/api/v1/make-lists/{make_list}/release/", "post"),
    ("/api/v1/make-lists/{make_list}/runs/{rank}/release/", "post"),
    ("/api/v1/runs/", "get"),
    ("/api/v1/runs/{run}/", "get"),
    ("/api/v1/runs/{run}/start/", "post"),
    ("/api/v1/runs/{run}/finish/", "post"),
    ("/api/v1/runs/{run}/cancel/", "post"),
    ("/api/v1/runs/{run}/reschedule/", "post"),
    ("/api/v1/runs/{run}/stops/", "get"),
    ("/api/v1/runs/{run}/stops/", "post"),
    ("/api/v1/runs/{run}/go-on/", "post"),
    ("/api/v1/runs/{run}/changeover-steps/", "get"),
    ("/api/v1/runs/{run}/changeover-steps/", "post"),
    ("/api/v1/runs/{run}/quality/", "get"),
    ("/api/v1/runs/{run}/diameters/", "post"),
    ("/api/v1/lots/{lot}/weighings/", "post"),
    ("/api/v1/oven-loads/", "post"),
    ("/api/v1/carts/{cart}/unload/", "post"),
    ("/api/v1/pack/", "post"),
    ("/api/v1/shipments/", "post"),
    ("/api/v1/counts/", "post"),
    ("/api/v1/counts/next/", "get"),
    ("/api/v1/counts/accuracy/", "get"),
    ("/api/v1/carts/", "get"),
    ("/api/v1/count-sheets/", "get"),
    ("/api/v1/count-sheets/", "post"),
    ("/api/v1/count-sheets/{sheet}/", "get"),
    ("/api/v1/count-sheets/{sheet}/counts/", "post"),
    ("/api/v1/count-sheets/{sheet}/close/", "post"),
    ("/api/v1/receipts/", "post"),
    ("/api/v1/holds/", "post"),
    ("/api/v1/holds/{lot}/release/", "post"),
    ("/api/v1/scrap/", "post"),
    ("/api/v1/own-use/", "post"),
    ("/api/v1/samples/", "post"),
    ("/api/v1/returns/", "post"),
    ("/api/v1/returns/restock/", "post"),
    ("/api/v1/trace/orders/{order}/", "get"),
    ("/api/v1/trace/shipments/{shipment}/", "get"),
    ("/api/v1/trace/runs/{run}/", "get"),
    ("/api/v1/trace/lots/{lot}/", "get"),
    ("/api/v1/service/", "get"),
}


@pytest.fixture
def document(db, client):
    answer = client.get(SCHEMA, headers={"accept": "application/vnd.oai.openapi+json"})
    assert answer.status_code == 200
    return answer.json()


def operations_of(document):
    return {(path, method): operation for path, item in document["paths"].items() for method, operation in item.items()}


def test_document_is_valid_openapi_3_1(document):
    assert document["openapi"].startswith("3.1.")
    assert list(OpenAPIV31SpecValidator(document).iter_errors()) == []


def test_document_is_written_without_a_warning(db, capsys):
    from drf_spectacular.drainage import GENERATOR_STATS
    from drf_spectacular.generators import SchemaGenerator

    GENERATOR_STATS.reset()
    SchemaGenerator().get_schema(request=None, public=True)
    assert not GENERATOR_STATS, capsys.readouterr().err


def test_document_names_every_endpoint(document):
    assert set(operations_of(document)) == OPERATIONS


def test_every_operation_has_a_summary_and_a_name_of_its_own(document):
    operations = operations_of(document).values()
    assert all(operation["description"] for operation in operations)
    assert len({operation["operationId"] for operation in operations}) == len(OPERATIONS)


def test_every_error_answer_is_a_problem_document(document):
    answers = [
        answer
        for operation in operations_of(document).values()
        for status, answer in operation["responses"].items()
        if status.startswith("4")
    ]
    assert len(answers) > 100
    assert {media for answer in answers for media in answer["content"]} == {"application/problem+json"}


def test_every_request_body_takes_no_unknown_member(document):
    bodies = [operation["requestBody"] for operation in operations_of(document).values() if "requestBody" in operation]
    names = {body["content"]["application/json"]["schema"]["$ref"].rsplit("/", 1)[1] for body in bodies}
    schemas = document["components"]["schemas"]
    assert len(names) > 10
    assert {name for name in names if schemas[name].get("additionalProperties") is not False} == set()


def test_bearer_token_is_the_way_in_for_integrations(document):
    scheme = document["components"]["securitySchemes"]["apiToken"]
    assert (scheme["type"], scheme["scheme"]) == ("http", "bearer")


def test_docs_page_loads_nothing_from_another_host_and_runs_no_inline_script(db):
    page = Client().get(DOCS).content.decode()
    loaded = re.findall(r"""(?:src|href)=["']([^"']+)""", page)
    assert len(loaded) >= 5
    assert [address for address in loaded if not re.match(r"/(?!/)", address)] == []
    assert re.findall(r"<script(?![^>]*\ssrc=)", page) + re.findall(r"<style", page) == []


def test_script_of_the_docs_page_points_at_our_schema(db):
    script = Client().get(DOCS, {"script": ""}).content.decode()
    assert SCHEMA in script
    assert re.findall(r"https?://", script) == []


def test_docs_page_is_sent_with_a_strict_content_security_policy(db):
    policy = Client().get(DOCS).headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "unsafe-inline" not in policy


def test_every_field_says_what_it_means(document):
    silent = [
        f"{name}.{member}"
        for name, schema in document["components"]["schemas"].items()
        for member, described in schema.get("properties", {}).items()
        if not described.get("description")
    ]
    assert silent == []


def test_every_read_takes_an_instant_or_says_why_not(document):
    reads = {path: steps["get"] for path, steps in document["paths"].items() if "get" in steps}
    takes = {path for path, read in reads.items() if any(p["name"] == "as_of" for p in read.get("parameters", ()))}
    others = {path: read["description"] for path, read in reads.items() if path not in takes}
    assert set(others) == {
        "/api/v1/carts/",
        "/api/v1/count-sheets/",
        "/api/v1/count-sheets/{sheet}/",
        "/api/v1/stock/changes/",
    }
    assert all("stand" in text and "without `as_of`" in text for text in others.values())
