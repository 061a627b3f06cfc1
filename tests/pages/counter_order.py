"""What the tests of the counter put into an order and write on it."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.test import Client

BLACK = "PLA-BLACK-1000"
BERLIN = ZoneInfo("Europe/Berlin")
FIELDS = {"channel": "WEB", "reference": "C-1", "ship_to": "", "wanted_day": ""}


def put(client: Client, code: str, spools: str = "") -> None:
    assert client.post("/admin/stock/put/", {"sku": code, f"spools {code}": spools}).status_code == 302
