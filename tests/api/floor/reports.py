"""What the floor reports of one run of black PLA: receipt, start and finish, oven load."""

from __future__ import annotations

from tests.api.calls import post

BLACK = "PLA-BLACK-1000"
START = "2027-03-01T08:00:00+01:00"
FINISH = "2027-03-01T12:00:00+01:00"
OVEN = "2027-03-01T17:00:00+01:00"
PACK = "2027-03-02T07:00:00+01:00"


def receive(client, item, quantity, status=201, lot=None):
    return post(
        client,
        "/receipts/",
        status,
        item=item,
        quantity=quantity,
        lot=lot or f"LOT-{item}",
        supplier_lot="S-1",
        document="DN 4711",
        occurred_at="2027-03-01T06:30:00+01:00",
    )


def finish(client, run, status=200, **change):
    body = {"good": {BLACK: 10}, "scrap": {BLACK: 1}, "real_minutes": 240, "purge_kg": 0.5, "occurred_at": FINISH}
    post(client, f"/runs/{run}/start/", 200, occurred_at=START)
    return post(client, f"/runs/{run}/finish/", status, **(body | change))


def load(client, run, status=201, **change):
    body = {"oven": "O1", "spools": [{"source": run, "sku": BLACK, "quantity": 10}], "occurred_at": OVEN}
    return post(client, "/oven-loads/", status, **(body | change))
