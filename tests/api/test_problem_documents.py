"""Errors as problem documents: RFC 9457, section 3, and the reference example under fixtures/reference/api.json."""

from __future__ import annotations

import json
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from rest_framework.test import APIClient

ORDERS = "/api/v1/orders/"
REFERENCE = json.loads(Path("fixtures/reference/api.json").read_text())
MEMBERS = {"type": str, "title": str, "status": int, "detail": str, "instance": str}


def problem(answer, status):
    """The body of an answer that must be a problem document of that status."""
    assert answer.headers["content-type"] == REFERENCE["problem_example"]["content_type"]
    body = answer.json()
    assert answer.status_code == body["status"] == status
    assert {name: type(body[name]) for name in MEMBERS} == MEMBERS
    return body


def resolve(pointer, document):
    """Evaluate a JSON pointer in URI fragment form (RFC 6901, sections 4 and 6)."""
    for token in unquote(pointer.removeprefix("#")).split("/")[1:]:
        key = token.replace("~1", "/").replace("~0", "~")
        document = document[int(key)] if isinstance(document, list) else document[key]
    return document


def test_reference_example_has_the_members_that_we_send():
    example = REFERENCE["problem_example"]["body"]
    assert set(example) & set(MEMBERS) == {"type", "title", "detail", "instance"}


def test_type_is_an_absolute_uri_and_title_the_status_phrase(db):
    body = problem(APIClient().get(ORDERS), 401)
    assert urlsplit(body["type"]).scheme == "tag"  # RFC 4151
    assert body["title"] == "Unauthorized"  # RFC 9110, section 15.5.2
    assert body["instance"] == ORDERS


def test_each_bad_field_has_its_pointer_into_the_body(plant, live):
    sent = {
        "channel": "WEB",
        "reference": "R 1",
        "lines": [{"sku": "PLA-BLACK-1000", "quantity": 1}, {"sku": 7, "quantity": "2", "pri~ce/eur": 3}],
        "surprise": True,
    }
    body = problem(live.post(ORDERS, sent, format="json"), 400)
    found = [(error["pointer"], resolve(error["pointer"], sent)) for error in body["errors"]]
    assert found == [
        ("#/reference", "R 1"),
        ("#/lines/1/sku", 7),
        ("#/lines/1/quantity", "2"),
        ("#/lines/1/pri~0ce~1eur", 3),
        ("#/surprise", True),
    ]


def test_missing_field_is_named(plant, live):
    body = problem(live.post(ORDERS, {"channel": "WEB", "reference": "R1"}, format="json"), 400)
    assert body["errors"] == [{"detail": "This field is required.", "code": "required", "pointer": "#/lines"}]


@pytest.mark.parametrize(
    "sent",
    [b"{", b"", b"[]", b'"text"', b"\xff\xfe", b'{"lines": NaN}', b"[" * 100_000, b'{"a": ' + b"9" * 5000 + b"}"],
    ids=["cut off", "empty", "list", "string", "no UTF-8", "NaN", "nested too deep", "long number"],
)
def test_malformed_json_is_refused(plant, live, sent):
    problem(live.post(ORDERS, sent, content_type="application/json"), 400)


def test_text_that_no_encoding_can_write_is_refused_with_a_writable_answer(plant, live):
    sent = b'{"\\ud800": 1, "reference": "\\ud800"}'
    body = problem(live.post(ORDERS, sent, content_type="application/json"), 400)
    assert "#/\\ud800" in [unquote(error["pointer"]) for error in body["errors"]]
    body = problem(live.post(ORDERS, b'{"kind": "\\ud800"}', content_type="application/json"), 400)
    assert '"\\ud800" is not one of: regular, project, own_use.' in [error["detail"] for error in body["errors"]]


# 2.5 MB is where Django itself stops reading.
@pytest.mark.parametrize("length", [300_000, 3_000_000])
def test_body_over_the_limit_is_refused(plant, live, length):
    answer = live.post(ORDERS, {"reference": "x" * length}, format="json")
    assert problem(answer, 413)["code"] == "body_too_large"


@pytest.mark.parametrize("path", ["/runs/%00/", "/count-sheets/C%001/", "/trace/lots/%00/"])
def test_address_with_a_character_that_no_code_has_names_nothing(plant, live, path):
    problem(live.get(f"/api/v1{path}"), 404)


def test_unknown_media_type_is_refused(plant, live):
    problem(live.post(ORDERS, b"a=1", content_type="application/x-www-form-urlencoded"), 415)


def test_answer_that_nobody_can_give_is_refused(plant, live):
    problem(live.get(ORDERS, headers={"accept": "text/csv"}), 406)


def test_wrong_method_is_refused_with_those_allowed(plant, live):
    answer = live.delete(ORDERS)
    problem(answer, 405)
    assert {"GET", "POST"} <= set(answer.headers["allow"].replace(" ", "").split(","))  # RFC 9110, section 15.5.6


@pytest.mark.parametrize("path", ["/api/v1/nothing/", "/api/v2/orders/", "/api/", "/api/v1/orders/abc/"])
def test_address_that_does_not_exist_is_a_problem_document(live, path):
    assert problem(live.get(path), 404)["code"] == "not_found"


def test_address_outside_the_api_keeps_the_page_of_the_site(db, client):
    assert client.get("/nothing/").headers["content-type"].startswith("text/html")


def test_unknown_query_parameter_is_named(plant, live):
    body = problem(live.get(ORDERS, {"colour": "blue"}), 400)
    assert body["errors"][0]["parameter"] == "colour"


def test_query_parameter_given_twice_is_named(plant, live):
    body = problem(live.get(ORDERS + "?limit=1&limit=2"), 400)
    assert [(error["parameter"], error["code"]) for error in body["errors"]] == [("limit", "repeated_parameter")]


def test_bad_query_parameter_is_named(plant, live):
    body = problem(live.get(ORDERS, {"limit": "0"}), 400)
    assert [error["parameter"] for error in body["errors"]] == ["limit"]


def test_cursor_of_another_list_is_refused(plant, live):
    body = problem(live.get(ORDERS, {"cursor": "PLA-BLACK-1000"}), 400)
    assert [error["parameter"] for error in body["errors"]] == ["cursor"]


def test_fault_of_the_server_is_a_problem_document_that_tells_nothing(plant, live, monkeypatch):
    live.raise_request_exception = False
    monkeypatch.setattr("inventory.api.orders.views.order_receipts", lambda **_: 1 / 0)
    body = problem(live.get(ORDERS), 500)
    assert "division" not in json.dumps(body)
