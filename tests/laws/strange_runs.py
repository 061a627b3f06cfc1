"""What the service must do with any input: answer what is wrong and change nothing, or take all of it."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path

from rest_framework.test import APIClient

from inventory.errors import BooksError
from inventory.models import Order, OrderLine
from inventory.plant_files.import_orders import import_orders
from inventory.rules.clock import Clock

REFUSED = {400, 404, 409, 413, 422}


def post_strange_body(client: APIClient, body: bytes) -> int:
    """Post it; return the status. An exception in the service comes through as it is."""
    before = counted()
    answer = client.generic("POST", "/api/v1/orders/", body, content_type="application/json")
    said = json.loads(answer.content)
    if answer.status_code == 201:
        asked = json.loads(body)["lines"]
        assert [(row["sku"], row["quantity"]) for row in said["lines"]] == [
            (row["sku"], row["quantity"]) for row in asked
        ]
        assert counted() == (before[0] + 1, before[1] + len(asked))
    else:
        assert answer.status_code in {200, *REFUSED}, (answer.status_code, body)
        assert counted() == before
        assert answer.status_code == 200 or said["detail"], said
    return answer.status_code


def import_strange_table(path: Path, content: bytes, *, clock: Clock) -> str:
    """Import it; return what came of it. An exception that names no fault comes through as it is."""
    path.write_bytes(content)
    before = counted()
    with suppress(BooksError):
        written = import_orders(path, as_of=clock.known_at).written
        assert counted() == (before[0] + written.orders, before[1] + written.lines)
        return "imported"
    assert counted() == before
    return "refused"


def counted() -> tuple[int, int]:
    """How many orders and lines there are."""
    return Order.objects.count(), OrderLine.objects.count()
