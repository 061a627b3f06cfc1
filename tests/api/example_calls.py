"""One call of every endpoint on the small plant, in the order in which a Monday and a Tuesday would make them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from rest_framework.test import APIClient

from inventory.plant_files.load import load_plant
from inventory.services.carts import put_on_cart
from stockplan.access.models import Scope
from stockplan.access.tokens import create_token
from tests.inventory.plant_dir import write_small_plant

API = "/api/v1"
STONE, SNOW = "PLA-STONE-175-1000", "PLA-SNOW-175-1000"
Sent = dict[str, Any]


@dataclass(frozen=True)
class Exchange:
    """A request and its answer.

    Attributes
    ----------
    path : str
        The address as the OpenAPI document writes it.
    """

    method: str
    path: str
    address: str
    sent: Sent | None
    status: int
    answer: Sent


class Recorder:
    """Makes calls with a token that may do everything, and keeps what was said."""

    def __init__(self) -> None:
        token = create_token(name="guide", scopes=Scope.values, channel_code=None, days=1)
        self._client = APIClient(SERVER_NAME="localhost", headers={"authorization": f"Bearer {token}"})

    def get(self, path: str, **query: Any) -> Exchange:
        """Ask."""
        names = {name: query.pop(name) for name in list(query) if f"{{{name}}}" in path}
        address = API + path.format(**names) + ("?" + urlencode(query, doseq=True, safe=":") if query else "")
        return self._exchange("GET", path, address, None, self._client.get(address))

    def post(self, path: str, sent: Sent, **names: Any) -> Exchange:
        """Report."""
        address = API + path.format(**names)
        return self._exchange("POST", path, address, sent, self._client.post(address, sent, format="json"))

    def patch(self, path: str, sent: Sent, **names: Any) -> Exchange:
        """Change."""
        address = API + path.format(**names)
        return self._exchange("PATCH", path, address, sent, self._client.patch(address, sent, format="json"))

    def _exchange(self, method: str, path: str, address: str, sent: Sent | None, answer: Any) -> Exchange:
        if answer.status_code >= 300:
            raise AssertionError(f"{method} {address} answered {answer.status_code}: {answer.content!r}")
        return Exchange(method, API + path, address, sent, answer.status_code, answer.json())


def example_exchanges(directory: Path) -> Iterator[Exchange]:
    """Load the small plant and make one call of every endpoint."""
    load_plant(write_small_plant(directory), as_of=datetime(2027, 3, 1, 7, tzinfo=UTC))
    call = Recorder()
    yield call.get("/skus/", search="snow", limit=1, as_of="2027-03-01T07:30:00Z")
    yield call.get("/stock/", sku=STONE, as_of="2027-03-01T07:30:00Z")
    yield call.get("/stock/changes/", limit=1)
    yield from _orders(call)
    yield from _make_lists(call)
    yield from _floor(call)
    yield from _store(call)
    yield call.get("/service/", first="2027-03-01", last="2027-03-02", as_of="2027-03-02T18:00:00Z")


def _orders(call: Recorder) -> Iterator[Exchange]:
    lines = [{"sku": STONE, "quantity": 2}, {"sku": SNOW, "quantity": 3}]
    body = {"channel": "SHOP", "reference": "2001", "received_at": "2027-03-01T08:00:00Z", "lines": lines}
    placed = call.post("/orders/", body | {"may_part_ship": True, "ship_to": "Mill Lane 3, Lowmeadow"})
    yield placed
    order = placed.answer["id"]
    two = [body | {"reference": "2000", "lines": lines[:1]}, body | {"reference": "2001", "lines": lines[1:]}]
    yield call.post("/orders/bulk/", {"orders": two})
    yield call.get("/orders/", reference="2001", as_of="2027-03-01T08:05:00Z")
    yield call.get("/orders/{order}/", order=order, as_of="2027-03-01T08:05:00Z")
    changed = {"lines": [{"sku": STONE, "quantity": 2}, {"sku": SNOW, "quantity": 2}]}
    yield call.patch("/orders/{order}/", changed | {"occurred_at": "2027-03-01T08:10:00Z"}, order=order)
    # More than the shelf has, so that a list has a second run whatever the forecast says.
    call.post("/orders/", body | {"reference": "2003", "lines": [{"sku": STONE, "quantity": 40}]})
    other = call.post("/orders/", body | {"reference": "2002", "lines": lines[:1]}).answer["id"]
    yield call.post("/orders/{order}/cancel/", {"by": "customer", "occurred_at": "2027-03-01T08:15:00Z"}, order=other)


def _make_lists(call: Recorder) -> Iterator[Exchange]:
    made = call.post("/make-lists/", {"as_of": "2027-03-01T08:30:00Z", "days": 2})
    yield made
    make_list = made.answer["id"]
    yield call.get("/make-lists/latest/", as_of="2027-03-01T08:31:00Z")
    yield call.get("/make-lists/{make_list}/", make_list=make_list)
    down = {"change": "line_down", "line": "L1", "day": "2027-03-02"}
    yield call.post("/make-lists/what-if/", {"changes": [down]})
    stands = call.post("/make-lists/order/", {"moves": [], "occurred_at": "2027-03-01T08:33:00Z"}).answer
    last = {"run": stands["lines"][0]["runs"][-1], "line": stands["lines"][0]["line"], "place": 1}
    yield call.post("/make-lists/order/", {"moves": [last], "occurred_at": "2027-03-01T08:34:00Z"})
    sent = {"occurred_at": "2027-03-01T08:35:00Z"}
    yield call.post("/make-lists/{make_list}/runs/{rank}/release/", sent, make_list=make_list, rank=1)
    yield call.post("/make-lists/{make_list}/release/", sent, make_list=make_list)


def _floor(call: Recorder) -> Iterator[Exchange]:
    yield call.get("/runs/", state="released", limit=1, as_of="2027-03-01T08:40:00Z")
    listed = call.get("/runs/", state="released", as_of="2027-03-01T08:40:00Z").answer["results"]
    by_filament = {row["filament"]: row for row in listed}
    snow, stone = by_filament["PLA-SNOW-175"], by_filament["PLA-STONE-175"]
    run, spools = snow["run"], {row["sku"]: row["planned"] for row in snow["outputs"]}
    yield call.get("/runs/{run}/", run=run, as_of="2027-03-01T08:40:00Z")
    times = {"planned_start": "2027-03-01T12:45:00Z", "planned_end": "2027-03-01T14:50:00Z"}
    yield call.post("/runs/{run}/reschedule/", times | {"occurred_at": "2027-03-01T09:00:00Z"}, run=run)
    yield call.post("/runs/{run}/cancel/", {"occurred_at": "2027-03-01T09:05:00Z"}, run=stone["run"])
    yield call.post("/runs/{run}/start/", {"occurred_at": "2027-03-01T12:45:00Z"}, run=run)
    purged = {"step": "purge", "is_done": True, "occurred_at": "2027-03-01T13:05:00Z"}
    yield call.post("/runs/{run}/changeover-steps/", purged, run=run)
    yield call.get("/runs/{run}/changeover-steps/", run=run, as_of="2027-03-01T13:00:00Z")
    broke = {"reason": "breakage", "note": "at the puller", "occurred_at": "2027-03-01T13:10:00Z"}
    yield call.post("/runs/{run}/stops/", broke, run=run)
    yield call.post("/runs/{run}/go-on/", {"occurred_at": "2027-03-01T13:25:00Z"}, run=run)
    yield call.get("/runs/{run}/stops/", run=run, as_of="2027-03-01T13:30:00Z")
    report = {"good": spools, "scrap": {SNOW: 1}, "real_minutes": 130, "purge_kg": 7.2}
    yield call.post("/runs/{run}/finish/", report | {"occurred_at": "2027-03-01T14:55:00Z"}, run=run)
    yield from _quality(call, run)
    (good,) = spools.values()
    put_on_cart(cart_code="CART-1", spools={f"{run}-{SNOW}": good - 2})
    yield call.get("/carts/", limit=1)
    yield call.post("/oven-loads/", {"oven": "OVEN-1", "carts": ["CART-1"], "occurred_at": "2027-03-01T17:00:00Z"})
    yield call.post("/carts/{cart}/unload/", {"occurred_at": "2027-03-02T05:20:00Z"}, cart="CART-1")
    yield call.post("/pack/", {"cart": "CART-1", "occurred_at": "2027-03-02T05:30:00Z"})
    rows = [{"source": run, "sku": SNOW, "quantity": 2}]
    yield call.post("/oven-loads/", {"oven": "OVEN-1", "spools": rows, "occurred_at": "2027-03-02T05:35:00Z"})
    yield call.post("/pack/", {"spools": rows, "occurred_at": "2027-03-02T11:45:00Z"})
    order = call.get("/orders/", reference="2001").answer["results"][0]["id"]
    parcel = {"order": order, "lines": [{"line_no": 1, "quantity": 2}, {"line_no": 2, "quantity": 2}]}
    shipped = call.post("/shipments/", parcel | {"document": "WB 4711", "occurred_at": "2027-03-02T14:00:00Z"})
    yield shipped
    yield call.get("/trace/orders/{order}/", order=order, as_of="2027-03-02T14:05:00Z")
    yield call.get("/trace/shipments/{shipment}/", shipment=shipped.answer["id"], as_of="2027-03-02T14:05:00Z")
    yield call.get("/trace/runs/{run}/", run="R000002", as_of="2027-03-02T14:05:00Z")
    yield call.get("/trace/lots/{lot}/", lot="R-1001", as_of="2027-03-02T14:05:00Z")


def _quality(call: Recorder, run: str) -> Iterator[Exchange]:
    pairs = [(1.751, 1.747), (1.744, 1.748), (1.753, 1.752), (1.749, 1.746)]
    measured = {"source": "gauge", "document": "gauge-1.csv", "occurred_at": "2027-03-01T14:57:00Z"}
    readings = [{"x_mm": x, "y_mm": y} for x, y in pairs]
    yield call.post("/runs/{run}/diameters/", measured | {"readings": readings}, run=run)
    yield call.get("/runs/{run}/quality/", run=run, subgroup_size=2, as_of="2027-03-01T14:58:00Z")
    weighed = {"gross_g": [1236.5, 1235.0, 1238.2], "occurred_at": "2027-03-01T15:00:00Z"}
    yield call.post("/lots/{lot}/weighings/", weighed, lot=f"{run}-{SNOW}")


def _leaving(call: Recorder) -> Iterator[Exchange]:
    torn = {"item": STONE, "place": "shelf", "quantity": 1, "reason": "torn carton"}
    yield call.post("/scrap/", torn | {"occurred_at": "2027-03-02T15:02:00Z"})
    taken = {"sku": STONE, "quantity": 1}
    yield call.post("/own-use/", taken | {"reason": "jigs", "occurred_at": "2027-03-02T15:03:00Z"})
    yield call.post("/samples/", taken | {"reason": "trade fair", "occurred_at": "2027-03-02T15:04:00Z"})
    back = {"sku": STONE, "lot": "S-5001", "quantity": 1}
    yield call.post("/returns/", back | {"reason": "ordered twice", "occurred_at": "2027-03-02T15:05:00Z"})
    yield call.post("/returns/restock/", back | {"reason": "seal unbroken", "occurred_at": "2027-03-02T15:06:00Z"})


def _counting(call: Recorder) -> Iterator[Exchange]:
    yield call.get("/counts/next/", limit=1, as_of="2027-03-02T15:01:00Z")
    wanted = {"skus": [STONE, SNOW], "tolerance_share": 0.01, "occurred_at": "2027-03-02T15:02:00Z"}
    opened = call.post("/count-sheets/", wanted)
    yield opened
    sheet = opened.answer["sheet"]
    found = {"sku": STONE, "counted": 15, "occurred_at": "2027-03-02T15:05:00Z"}
    yield call.post("/count-sheets/{sheet}/counts/", found, sheet=sheet)
    yield call.get("/count-sheets/{sheet}/", sheet=sheet)
    yield call.post("/count-sheets/{sheet}/close/", {"occurred_at": "2027-03-02T15:06:00Z"}, sheet=sheet)
    yield call.get("/count-sheets/", limit=1)
    yield call.get("/counts/accuracy/", first="2027-03-01", last="2027-03-02", as_of="2027-03-02T18:00:00Z")


def _store(call: Recorder) -> Iterator[Exchange]:
    delivery = {
        "item": "RESIN-PLA",
        "quantity": 771.125,
        "lot": "R-1003",
        "supplier_lot": "SUP-79",
        "document": "DN 88",
    }
    yield call.post("/receipts/", delivery | {"document": "DN 88", "occurred_at": "2027-03-02T14:30:00Z"})
    found = {"item": STONE, "place": "shelf", "counted": 15, "reason": "cycle count"}
    yield call.post("/counts/", found | {"occurred_at": "2027-03-02T15:00:00Z"})
    yield from _counting(call)
    yield from _leaving(call)
    yield call.post("/holds/", {"lot": "R-1003", "reason": "damp bag", "occurred_at": "2027-03-02T15:10:00Z"})
    sent = {"reason": "dried and tested", "occurred_at": "2027-03-02T16:00:00Z"}
    yield call.post("/holds/{lot}/release/", sent, lot="R-1003")
