"""Laws of promises: whatever happens, in whatever order, no spool is promised twice and none lies idle.

Any series of orders, amendments, cancellations, parcels, runs, packing, counts, scrap and holds. Refusals are part of
the series: they must leave the books as they were, which the same laws check.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.db.models import F, QuerySet, Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pytest_django import Settings

from inventory.errors import BooksError
from inventory.models import Allocation, Lot, Order, OrderLine, Run, RunOutput, ShelfStock
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.check import check_books
from inventory.selectors.demand import open_demand_frame
from inventory.selectors.orders import order_receipts
from inventory.selectors.run_rows import run_rows
from inventory.selectors.stock import stock_rows
from inventory.services.counts import post_count
from inventory.services.holds import hold_lot, release_lot
from inventory.services.ledger import ensure_places
from inventory.services.orders import amend_order, cancel_order, place_order
from inventory.services.packing import pack
from inventory.services.run_finish import finish_run
from inventory.services.runs import cancel_run, release_run, resize_run, start_run
from inventory.services.scrap import scrap
from inventory.services.shipments import ship_order
from tests.inventory.builders import TinyPlant, build_tiny_plant, local, no_capacity

SKUS = ("PETG-NAT-1000", "PLA-BLACK-1000")
NATURAL = SKUS[0]
FIRST_MOMENT = local("2027-03-01 07:00").astimezone(UTC)
STEP = timedelta(minutes=97)
Step = tuple[str, int, int, int]


@pytest.fixture
def plant(db: None, settings: Settings) -> TinyPlant:
    """A plant in the middle of its work: stock, a wound run, a released one, and three orders that want more."""
    settings.EARLIEST_CAPACITY_DAY = f"{no_capacity.__module__}.no_capacity"
    ensure_places()
    tiny = build_tiny_plant()
    opening: list[Step] = [
        ("count", 0, 6, 0),
        ("count", 1, 5, 0),
        ("release", 0, 7, 1),
        ("make", 0, 5, 0),
        ("release", 0, 5, 6),
        ("place", 0, 3, 4),
        ("place", 1, 3, 3),
        ("place", 0, 8, 2),
    ]
    for number, step in enumerate(opening):
        _do(step, Clock.at(FIRST_MOMENT + (number - len(opening)) * STEP))
    return tiny


def _pick(rows: QuerySet[Any], column: str, number: int) -> Any:
    """One of the rows; of none, what is not there."""
    values = list(rows.order_by("id").values_list(column, flat=True))
    return values[number % len(values)] if values else {"id": -1, "code": "NONE"}[column]


def _order(number: int, more: int) -> int:
    """An open order as a rule, now and then any one."""
    return int(_pick(Order.objects.all() if more == 9 else Order.objects.filter(state="open"), "id", number))


def _run(number: int, *states: str) -> str:
    return str(_pick(Run.objects.filter(state__in=states), "code", number))


def _lot(number: int, *, is_held: bool) -> str:
    return str(_pick(Lot.objects.filter(item__code__in=SKUS, is_held=is_held), "code", number))


def _place(which: int, spools: int, more: int, clock: Clock) -> None:
    lines = [(SKUS[which % 2], spools + 1), (SKUS[(which + 1) % 2], more + 1)][: 1 + which % 3]
    wanted = clock.occurred_at.date() + timedelta(days=more) if more % 3 == 0 else None
    body = OrderDraft("WEB", f"{clock.occurred_at:%d%H%M}", lines, may_part_ship=more % 2 == 0, wanted_day=wanted)
    place_order(body=body, clock=clock)


def _amend(which: int, spools: int, more: int, clock: Clock) -> None:
    lines = [(SKUS[which % 2], spools + 1), (SKUS[(which + 1) % 2], more + 1)][: 1 + more % 2]
    wanted = clock.occurred_at.date() + timedelta(days=more)
    amend_order(order_id=_order(which, more), lines=lines, wanted_day=wanted, clock=clock)


def _cancel(which: int, spools: int, more: int, clock: Clock) -> None:
    cancel_order(order_id=_order(which, more), by="customer" if more % 2 else "shop", clock=clock)


def _ship(which: int, spools: int, more: int, clock: Clock) -> None:
    lines = {1 + which % 2: spools} if more % 4 == 1 else None
    ship_order(order_id=_order(which, more), lines=lines, clock=clock)


def _count(which: int, spools: int, more: int, clock: Clock) -> None:
    post_count(sku_code=SKUS[which % 2], place_kind="shelf", counted=Decimal(spools), clock=clock, reason="counted")


def _scrap(which: int, spools: int, more: int, clock: Clock) -> None:
    kind = ("shelf", "wound")[more % 2]
    scrap(item_code=SKUS[which % 2], quantity=spools, place_kind=kind, clock=clock, reason="dropped")


def _hold(which: int, spools: int, more: int, clock: Clock) -> None:
    lot_code = _lot(which, is_held=more % 2 == 0)
    (hold_lot if more % 2 else release_lot)(lot_code=lot_code, clock=clock, reason="ovality")


def _release(which: int, spools: int, more: int, clock: Clock) -> None:
    start = clock.occurred_at + timedelta(hours=more)
    release_run(
        filament_code="PETG-NATURAL-1.75",
        line_code="L1",
        spools={NATURAL: spools + 1},
        planned_start=start,
        planned_end=start + timedelta(hours=2),
        clock=clock,
    )


def _resize(which: int, spools: int, more: int, clock: Clock) -> None:
    resize_run(run_code=_run(which, "released"), spools={NATURAL: spools + 1}, clock=clock)


def _drop(which: int, spools: int, more: int, clock: Clock) -> None:
    cancel_run(run_code=_run(which, "released"), clock=clock)


def _make(which: int, spools: int, more: int, clock: Clock) -> None:
    """Start and finish a run within the step."""
    code, began = _run(which, "released", "started"), Clock.at(clock.occurred_at - timedelta(minutes=60))
    start_run(run_code=code, clock=began)
    finish_run(
        run_code=code,
        good={NATURAL: spools},
        scrap={NATURAL: more % 3},
        real_minutes=Decimal(60),
        purge_kg=Decimal(1),
        clock=clock,
    )


def _pack(which: int, spools: int, more: int, clock: Clock) -> None:
    pack(spools=[(_run(which, "finished"), NATURAL, 1 + spools // 2)], clock=clock)


DEEDS: dict[str, Callable[[int, int, int, Clock], None]] = {
    "place": _place,
    "amend": _amend,
    "cancel": _cancel,
    "ship": _ship,
    "count": _count,
    "scrap": _scrap,
    "hold": _hold,
    "release": _release,
    "resize": _resize,
    "drop": _drop,
    "make": _make,
    "pack": _pack,
}
small = st.integers(0, 9)
# What makes the books interesting comes more often: orders, supply and parcels.
names = st.sampled_from([*DEEDS, "place", "pack", "ship"])
series = st.lists(st.tuples(names, small, small, small), min_size=4, max_size=16)
law = settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])


@contextmanager
def undone() -> Iterator[None]:
    """Each example begins with the same books."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def run_step(number: int, step: Step) -> Clock:
    clock = Clock.at(FIRST_MOMENT + number * STEP)
    # A refusal is legal; the laws hold after it too.
    with suppress(BooksError):
        _do(step, clock)
    return clock


def _do(step: Step, clock: Clock) -> None:
    name, which, spools, more = step
    with transaction.atomic():
        DEEDS[name](which, spools, more, clock)


def live_spools(**which: object) -> dict[int, int]:
    rows = Allocation.objects.filter(end="", **which).values_list("order_line_id").annotate(Sum("quantity"))
    return dict(rows.order_by())


def held_too_much() -> list[str]:
    held = live_spools()
    lines = OrderLine.objects.filter(pk__in=held)
    return [f"{line}: {held[line.pk]}" for line in lines if held[line.pk] > line.quantity - line.shipped]


def idle_while_waiting() -> list[str]:
    """SKUs of which something is free while an open line lacks it."""
    held = live_spools()
    open_lines = OrderLine.objects.filter(order__state="open", quantity__gt=F("shipped"))
    short = {line.sku_id for line in open_lines if line.quantity - line.shipped > held.get(line.pk, 0)}
    on_shelf = ShelfStock.objects.filter(sku_id__in=short, on_shelf__gt=F("allocated"))
    coming = RunOutput.objects.filter(sku_id__in=short, awaited__gt=F("allocated"))
    return [f"shelf {row.sku_id}" for row in on_shelf] + [f"run {row.run_id}" for row in coming]


def promised_without_spools() -> list[str]:
    """Open lines with a promised day while spools are missing, or without one while none is."""
    open_orders = [receipt for receipt in order_receipts(state="open") if receipt.lines]
    lines = [line for receipt in open_orders for line in receipt.lines if line.quantity > line.shipped]
    return [f"{line}" for line in lines if (line.promised_day is None) != (line.unpromised > 0)]


def faults() -> list[object]:
    return [*check_books(), *held_too_much(), *idle_while_waiting(), *promised_without_spools()]


@law
@given(steps=series)
def test_no_series_promises_a_spool_twice_or_leaves_one_idle(plant: TinyPlant, steps: list[Step]) -> None:
    with undone():
        for number, step in enumerate(steps):
            run_step(number, step)
            assert (number, step, faults()) == (number, step, [])


@law
@given(steps=series)
def test_no_series_moves_a_due_day(plant: TinyPlant, steps: list[Step]) -> None:
    with undone():
        due: dict[int, date] = {}
        for number, step in enumerate(steps):
            run_step(number, step)
            now = dict(Order.objects.values_list("id", "due_day"))
            assert {key: now[key] for key in due} == due
            due = now


# Reads the books twice at every step: fewer series take as long as those of the other laws.
@settings(law, max_examples=15)
@given(steps=series)
def test_books_read_as_of_an_instant_stay_what_they_were(plant: TinyPlant, steps: list[Step]) -> None:
    """Read at the time, and read again when the whole series is over, the books tell the same."""
    with undone():
        seen = []
        for number, step in enumerate(steps):
            clock = run_step(number, step)
            seen.append((clock.known_at, told_at(clock.known_at, fresh=True)))
        for at, told in seen:
            assert told_at(at, fresh=False) == told


def told_at(at: datetime, *, fresh: bool) -> tuple[object, ...]:
    """Stock with its pipeline, runs with their plans, orders and open demand."""
    as_of = None if fresh else at
    stock = [(row.sku_id, row.on_shelf, row.allocated, row.pipeline) for row in stock_rows(now=at, as_of=as_of)]
    runs = run_rows(as_of=as_of, limit=100)
    orders = [
        (receipt.order_id, receipt.state, line.line_no, line.quantity, line.shipped, line.from_shelf, line.unpromised)
        for receipt in order_receipts(as_of=as_of)
        for line in receipt.lines
    ]
    return stock, runs, orders, open_demand_frame(as_of=at).values.tolist()
