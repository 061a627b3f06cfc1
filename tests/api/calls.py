"""Short forms of calls that many tests of the API make."""

from __future__ import annotations

from typing import Any

from rest_framework.test import APIClient

API = "/api/v1"
MONDAY_9 = "2027-03-01T09:00:00+01:00"
"""A ship day of the tiny plant, before its cut-off at 13:40."""


def post(client: APIClient, path: str, status: int = 201, **body: Any) -> dict[str, Any]:
    """Post a body and return the answer, which must have the status."""
    return _sent(client.post(API + path, body, format="json"), status)


def patch(client: APIClient, path: str, status: int = 200, **body: Any) -> dict[str, Any]:
    """Patch with a body and return the answer, which must have the status."""
    return _sent(client.patch(API + path, body, format="json"), status)


def get(client: APIClient, path: str, status: int = 200, **query: Any) -> dict[str, Any]:
    """Return the answer to a question, which must have the status."""
    return _sent(client.get(API + path, query), status)


def put_on_shelf(client: APIClient, sku: str, spools: int, at: str = "2027-03-01T07:00:00+01:00") -> None:
    """Bring spools onto the shelf the only way that needs no run: they are found in a count."""
    post(client, "/counts/", item=sku, place="shelf", counted=spools, reason="first count", occurred_at=at)


def order(client: APIClient, number: str, status: int = 201, at: str | None = MONDAY_9, **more: Any) -> dict[str, Any]:
    """Place an order of three spools, or of what `lines` says."""
    body = {"channel": "WEB", "reference": number, "lines": [{"sku": "PLA-BLACK-1000", "quantity": 3}]}
    if at is not None:
        body["received_at"] = at
    return post(client, "/orders/", status, **(body | more))


def _sent(answer: Any, status: int) -> dict[str, Any]:
    assert answer.status_code == status, answer.content
    body: dict[str, Any] = answer.json()
    return body
