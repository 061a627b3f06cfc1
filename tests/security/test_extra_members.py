"""Members that a client adds to a body in the hope that they are written (mass assignment, CWE-915)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator

from inventory.models import Order
from tests.api.calls import order

# What a client would like to set: fields of the records behind the bodies.
WANTED = {
    "id": 1, "due_day": "2020-01-01", "state": "shipped", "is_history": True, "known_at": "2020-01-01T00:00:00Z",
    "body_digest": "x", "posted_by": 1, "is_held": False, "channel_id": 1, "is_superuser": True, "scopes": ["plan"],
}  # fmt: skip


def _document() -> dict[str, Any]:
    document: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
    return document


def _objects(
    schema: dict[str, Any], components: dict[str, Any], seen: set[str]
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every object that a body holds, at any depth, by its name."""
    if name := schema.get("$ref", "").rpartition("/")[2]:
        if name in seen:
            return
        seen.add(name)
        schema = components[name]
        if schema.get("type") == "object":
            yield name, schema
    for below in schema.get("properties", {}).values():
        yield from _objects(below, components, seen)
    for word in ("allOf", "oneOf", "anyOf"):
        for below in schema.get(word, []):
            yield from _objects(below, components, seen)
    if isinstance(schema.get("items"), dict):
        yield from _objects(schema["items"], components, seen)


def _bodies() -> dict[str, dict[str, Any]]:
    document = _document()
    components, found = document["components"]["schemas"], {}
    for operations in document["paths"].values():
        for operation in operations.values():
            for content in operation.get("requestBody", {}).get("content", {}).values():
                found |= dict(_objects(content["schema"], components, set()))
    return found


BODIES = _bodies()


def test_there_are_bodies_to_try():
    assert {"OrderBody", "DiametersBody"} <= set(BODIES)
    assert len(BODIES) > 25


@pytest.mark.parametrize("name", sorted(BODIES))
def test_every_object_of_a_body_is_closed(name):
    assert BODIES[name]["additionalProperties"] is False


@pytest.mark.parametrize("member", WANTED)
def test_member_that_an_order_does_not_take_is_refused_by_name(plant, live, member):
    body = order(live, "A-1", 400, at=None, **{member: WANTED[member]})
    assert [(error["pointer"], error["code"]) for error in body["errors"]] == [(f"#/{member}", "unknown_field")]
    assert not Order.objects.exists()


def test_every_fault_of_a_body_is_told_at_once(plant, live):
    lines = [{"sku": "PLA-BLACK-1000", "quantity": 0, "shipped": 1}, {"sku": "PLA-BLACK-1000"}]
    body = order(live, "A-1", 400, at=None, lines=lines, price=5)
    assert {(error["pointer"], error["code"]) for error in body["errors"]} == {
        ("#/price", "unknown_field"),
        ("#/lines/0/shipped", "unknown_field"),
        ("#/lines/0/quantity", "min_value"),
        ("#/lines/1/quantity", "required"),
    }
    assert not Order.objects.exists()


def test_member_of_a_line_is_refused_by_its_place(plant, live):
    lines = [{"sku": "PLA-BLACK-1000", "quantity": 1, "shipped": 1}]
    assert order(live, "A-1", 400, at=None, lines=lines)["errors"][0]["pointer"] == "#/lines/0/shipped"
