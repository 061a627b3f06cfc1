"""A mock recall on two years of the demo plant: every lot of material to its customers, orders back to their resin.

`python -m tests.benches.bench_recall` builds the demo plant in a database of its own (with DATABASE_URL set, in that
empty one). Its two years of orders come without a ledger, so the bench writes one: every filament is run once in 14
days for what is ordered of it in them, resin and concentrate come every 28 days as one lot, and every order leaves as
one shipment of these lots. Goal: under two seconds from the question to the whole answer, for the largest lot as well.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import django
from django.test import Client

from tests.benches.machine import machine

if TYPE_CHECKING:
    from inventory.models import Item, Lot, OrderLine, Run, Sku

MOST_S = 2.0
RUN_DAYS, DELIVERY_DAYS = 14, 28
ORDERS_TRACED = 50
Block = tuple[Any, int]
"""What is made or comes, and the number of the block of days."""


def main() -> None:
    """Build the plant and its ledger, recall, print."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("DATABASE_URL", f"sqlite:///{folder}/recall.sqlite3")
        django.setup()
        fill_database(Path(folder) / "plant")
        write_ledger()
        report()


def fill_database(folder: Path) -> None:
    """Load the demo plant up to yesterday."""
    from django.core.management import call_command
    from django.utils import timezone

    with Path(os.devnull).open("w") as quiet:
        call_command("migrate", verbosity=0)
        call_command("make_demo_plant", folder, last_day=timezone.localdate() - timedelta(days=1), stdout=quiet)
        call_command("load_plant", folder, stdout=quiet, stderr=quiet)


def write_ledger() -> None:
    """Write deliveries, runs and shipments behind all orders that were shipped."""
    from inventory.models import OrderLine

    shipped = OrderLine.objects.filter(shipped__gt=0, shipped_complete_day__isnull=False)
    lines = list(
        shipped.select_related(
            "order", "sku__item", "sku__filament__material__resin_item", "sku__filament__colour__concentrate_item"
        ).order_by("order_id", "line_no")
    )
    first = min(line.order.received_at for line in lines).date()
    lots = _write_runs(lines, first=first)
    _write_shipments(lines, lots, first=first)


def _block(day: date, *, first: date, days: int) -> int:
    return (day - first).days // days


def _at(number: int, *, first: date, days: int) -> datetime:
    from django.utils import timezone

    start = datetime.combine(first + timedelta(days=number * days), datetime.min.time())
    return timezone.make_aware(start) - timedelta(days=1)


def _write_runs(lines: Iterable[OrderLine], *, first: date) -> dict[Block, Lot]:
    """Return the lots of spools by SKU and block of run days."""
    from inventory.models import Line, Lot, Run

    wanted: defaultdict[Block, defaultdict[Sku, int]] = defaultdict(lambda: defaultdict(int))
    for line in lines:
        number = _block(line.order.received_at.date(), first=first, days=RUN_DAYS)
        wanted[(line.sku.filament, number)][line.sku] += line.shipped
    line_id = Line.objects.values_list("pk", flat=True)[0]
    runs = {}
    for index, (filament, number) in enumerate(wanted):
        at = _at(number, first=first, days=RUN_DAYS)
        times = dict.fromkeys(("planned_start", "planned_end", "released_at", "started_at", "finished_at"), at)
        known = dict.fromkeys(("released_known_at", "started_known_at", "finished_known_at"), at)
        code = f"PAST{index:06d}"
        runs[(filament, number)] = Run(
            code=code, filament=filament, line_id=line_id, state="finished", **times, **known
        )
    Run.objects.bulk_create(runs.values())
    lots = {
        (sku, block[1]): Lot(
            code=f"{runs[block].code}-{sku.item.code}"[:40], item=sku.item, run=runs[block],
            created_at=runs[block].released_at,
        )
        for block, spools in wanted.items()
        for sku in spools
    }  # fmt: skip
    Lot.objects.bulk_create(lots.values())
    _post_runs(wanted, runs, lots, first=first)
    return lots


def _post_runs(wanted: Any, runs: dict[Block, Run], lots: dict[Block, Lot], *, first: date) -> None:
    from inventory.models import Lot, Movement, MovementLine, Place

    places = {place.kind: place for place in Place.objects.exclude(kind="oven")}
    needs = [(block, item, kg) for block, spools in wanted.items() for item, kg in _needs(spools)]
    deliveries = {(item, block[1] * RUN_DAYS // DELIVERY_DAYS) for block, item, _ in needs}
    material = {
        key: Lot(
            code=f"{key[0].code}-P{key[1]}", item=key[0], supplier_lot=f"S{key[1]}",
            created_at=_at(key[1], first=first, days=DELIVERY_DAYS),
        )
        for key in deliveries
    }  # fmt: skip
    Lot.objects.bulk_create(material.values())
    moved: list[tuple[Movement, Lot, Decimal, str, str]] = []
    used: dict[Block, Movement] = {}
    for block, run in runs.items():
        clocks = {"occurred_at": run.released_at, "known_at": run.released_at, "run": run}
        used[block] = Movement(kind="run_consumption", **clocks)
        wound, packed = Movement(kind="run_output", **clocks), Movement(kind="pack", **clocks)
        for sku, spools in wanted[block].items():
            lot = lots[(sku, block[1])]
            moved += [(wound, lot, Decimal(spools), "conversion", "wound")]
            moved += [(packed, lot, Decimal(spools), "wound", "shelf")]
    for block, item, kg in needs:
        lot = material[(item, block[1] * RUN_DAYS // DELIVERY_DAYS)]
        moved.append((used[block], lot, kg, "resin_store", "conversion"))
    Movement.objects.bulk_create({id(row[0]): row[0] for row in moved}.values())
    MovementLine.objects.bulk_create(
        MovementLine(
            movement=movement, item_id=lot.item_id, lot=lot, quantity=quantity,
            from_place=places[source], to_place=places[target],
        )
        for movement, lot, quantity, source, target in moved
    )  # fmt: skip


def _needs(spools: dict[Sku, int]) -> list[tuple[Item, Decimal]]:
    """Resin and concentrate of one run."""
    filament = next(iter(spools)).filament
    kg = sum((Decimal(sku.spool_size.net_g * number) / 1000 for sku, number in spools.items()), Decimal(0))
    concentrate, share = filament.colour.concentrate_item, Decimal(filament.colour.let_down_share or 0)
    needs = [(filament.material.resin_item, kg * (1 - share))]
    return needs + ([(concentrate, kg * share)] if concentrate is not None and share else [])


def _write_shipments(lines: list[OrderLine], lots: dict[Block, Lot], *, first: date) -> None:
    from inventory.models import Movement, MovementLine, Place, Shipment, ShipmentLine

    shelf, customer = Place.objects.get(kind="shelf"), Place.objects.get(kind="customer")
    shipments, movements = {}, {}
    for line in lines:
        at = line.order.received_at
        day = line.shipped_complete_day or at.date()
        shipments.setdefault(line.order_id, Shipment(order=line.order, ship_day=day, shipped_at=at, known_at=at))
        movements.setdefault(line.order_id, Movement(kind="shipment", occurred_at=at, known_at=at))
    Shipment.objects.bulk_create(shipments.values(), batch_size=5000)
    Movement.objects.bulk_create(movements.values(), batch_size=5000)
    rows = [ShipmentLine(shipment=shipments[line.order_id], order_line=line, quantity=line.shipped) for line in lines]
    ShipmentLine.objects.bulk_create(rows, batch_size=5000)
    MovementLine.objects.bulk_create(
        (
            MovementLine(
                movement=movements[line.order_id], item_id=line.sku_id, quantity=line.shipped, shipment_line=row,
                lot=lots[(line.sku, _block(line.order.received_at.date(), first=first, days=RUN_DAYS))],
                from_place=shelf, to_place=customer,
            )
            for line, row in zip(lines, rows, strict=True)
        ),
        batch_size=5000,
    )  # fmt: skip


def report() -> None:
    """Recall every lot of material, trace some orders back, print, and fail beyond the goal."""
    from django.db import connection

    from inventory.models import Lot, MovementLine, Order, Run
    from inventory.selectors.lots import trace_lot, trace_order

    codes = list(Lot.objects.filter(run=None, code__contains="-P").values_list("code", flat=True))
    orders = list(Order.objects.filter(shipments__isnull=False).order_by("id").values_list("pk", flat=True))
    orders = orders[:: max(1, len(orders) // ORDERS_TRACED)]
    recalls = {code: timed(partial(trace_lot, code)) for code in codes}
    largest = max(codes, key=lambda code: len(recalls[code][1].delivered))
    found = recalls[largest][1]
    back = [timed(partial(trace_order, order))[0] for order in orders]
    client = _client()
    client.get("/admin/trace/")  # whatever page comes first loads the site
    page = timed(partial(client.get, "/admin/trace/", {"lot": largest}))
    table = timed(partial(client.get, "/admin/tables/trace-delivered.csv", {"lot": largest}))
    print(f"{Run.objects.count()} runs, {MovementLine.objects.count()} lines in the ledger, {connection.vendor}")
    print(machine())
    seconds = [took for took, _ in recalls.values()]
    print(f"recall of each of {len(codes)} lots of material: median {statistics.median(seconds):.3f} s, ", end="")
    slowest = max(codes, key=lambda code: recalls[code][0])
    print(f"slowest {max(seconds):.3f} s ({slowest}; goal {MOST_S:g})")
    print(f"the largest, {largest}: {len(found.runs)} runs, {len(found.spools)} lots, ", end="")
    print(f"{len({row.order_id for row in found.delivered})} orders, {recalls[largest][0]:.3f} s")
    print(f"its page {page[0]:.3f} s, {len(page[1].content) / 1000:.0f} kB; every delivery as CSV {table[0]:.3f} s")
    print(f"an order back to its resin: median {statistics.median(back):.3f} s, slowest {max(back):.3f} s")
    sys.exit(max([*seconds, *back, page[0], table[0]]) > MOST_S)


def _client() -> Client:
    from django.contrib.auth.models import User

    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(User.objects.create_superuser("bench"), backend="django.contrib.auth.backends.ModelBackend")
    return client


def timed(call: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds that a call takes, and its answer."""
    before = time.perf_counter()
    answer = call()
    return time.perf_counter() - before, answer


if __name__ == "__main__":
    main()
