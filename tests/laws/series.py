"""Random working days of the tiny plant: a series of facts, each legal or refused, some of them posted late."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from hypothesis import strategies as st

from inventory.models import Lot, Order, Oven, Run
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.services.counts import post_count
from inventory.services.holds import hold_lot, release_lot
from inventory.services.orders import cancel_order, place_order
from inventory.services.ovens import load_oven, unload_oven
from inventory.services.packing import pack
from inventory.services.receipts import receive_material
from inventory.services.returns import receive_return, restock
from inventory.services.runs import cancel_run, finish_run, release_run, resize_run, start_run
from inventory.services.scrap import scrap, take_own_use
from inventory.services.shipments import ship_order
from tests.inventory.builders import local

KG, QUARTER = "PLA-BLACK-1000", "PLA-BLACK-250"
MONDAY = local("2027-03-01 07:00")


@dataclass(frozen=True)
class Step:
    """One fact: what, how many, which of the records there are, how long after the one before, how late it is told."""

    what: str
    spools: int
    pick: int
    after_min: int
    late_min: int


def _run(states: list[str], pick: int) -> str:
    codes = list(Run.objects.filter(state__in=states).order_by("id").values_list("code", flat=True))
    return codes[pick % len(codes)] if codes else "NONE"


def _lot(pick: int) -> str:
    codes = list(Lot.objects.order_by("id").values_list("code", flat=True))
    return codes[pick % len(codes)] if codes else "NONE"


def _order(pick: int) -> int:
    ids = list(Order.objects.filter(state="open").order_by("id").values_list("pk", flat=True))
    return ids[pick % len(ids)] if ids else 0


def _sku(step: Step) -> str:
    return (KG, QUARTER)[step.pick % 2]


def _receive(step: Step, clock: Clock) -> None:
    receive_material(
        item_code="RESIN-PLA", quantity=Decimal(step.spools), lot_code=f"R{step.pick}", clock=clock, document="note"
    )


def _order_of(step: Step, clock: Clock) -> None:
    lines = [(KG, step.spools), (QUARTER, step.pick + 1)][: 1 + step.pick % 2]
    draft = OrderDraft(channel_code="WEB", reference=f"{Order.objects.count()}", lines=lines, may_part_ship=True)
    place_order(body=draft, clock=clock)


def _release(step: Step, clock: Clock) -> None:
    start = clock.occurred_at + timedelta(hours=1)
    release_run(
        filament_code="PLA-BLACK-1.75",
        line_code="L1",
        spools={KG: step.spools, QUARTER: step.pick + 1},
        planned_start=start,
        planned_end=start + timedelta(hours=2),
        clock=clock,
    )


def _finish(step: Step, clock: Clock) -> None:
    finish_run(
        run_code=_run(["started"], step.pick),
        good={KG: step.spools},
        scrap={QUARTER: step.pick},
        real_minutes=Decimal(120),
        purge_kg=Decimal("0.5"),
        clock=clock,
    )


FACTS: Mapping[str, Callable[[Step, Clock], object]] = {
    "receive": _receive,
    "order": _order_of,
    "cancel order": lambda step, clock: cancel_order(order_id=_order(step.pick), by="customer", clock=clock),
    "release": _release,
    "start": lambda step, clock: start_run(run_code=_run(["released"], step.pick), clock=clock),
    "resize": lambda step, clock: resize_run(
        run_code=_run(["released", "started"], step.pick), spools={KG: step.spools}, clock=clock
    ),
    "cancel run": lambda step, clock: cancel_run(run_code=_run(["released"], step.pick), clock=clock),
    "finish": _finish,
    "load": lambda step, clock: load_oven(
        oven_code=Oven.objects.first().code, spools=[(None, _sku(step), step.spools)], clock=clock
    ),
    "unload": lambda _, clock: unload_oven(oven_code=Oven.objects.first().code, clock=clock),
    "pack": lambda step, clock: pack(spools=[(None, _sku(step), step.spools)], clock=clock),
    "ship": lambda step, clock: ship_order(order_id=_order(step.pick), lines=None, clock=clock),
    "count": lambda step, clock: post_count(
        sku_code=_sku(step),
        place_kind=("shelf", "wound", "packing")[step.pick % 3],
        counted=Decimal(step.spools),
        clock=clock,
    ),
    "scrap": lambda step, clock: scrap(item_code=_sku(step), quantity=step.spools, clock=clock, reason="torn"),
    "own use": lambda step, clock: take_own_use(sku_code=_sku(step), quantity=step.spools, clock=clock, reason="jig"),
    "hold": lambda step, clock: hold_lot(lot_code=_lot(step.pick), clock=clock, reason="diameter"),
    "release lot": lambda step, clock: release_lot(lot_code=_lot(step.pick), clock=clock, reason="measured"),
    "return": lambda step, clock: receive_return(
        sku_code=_sku(step), lot_code=_lot(step.pick), quantity=step.spools, clock=clock
    ),
    "restock": lambda step, clock: restock(
        sku_code=_sku(step), lot_code=_lot(step.pick), quantity=step.spools, clock=clock
    ),
}

STEPS = st.builds(
    Step,
    what=st.sampled_from(sorted(FACTS)),
    spools=st.integers(1, 12),
    pick=st.integers(0, 5),
    after_min=st.sampled_from([1, 30, 240, 480]),
    late_min=st.sampled_from([0, 0, 0, 120, 600]),
)
"""Any fact at any time: many are refused."""

WORKING_DAY = ("order", "release", "start", "finish", "load", "pack", "ship")
"""The way of spools through the plant, so that a series gets somewhere."""


@st.composite
def working_days(draw: st.DrawFn) -> list[Step]:
    """The way of spools through the plant with any other facts in between."""
    steps: list[Step] = []
    for what in WORKING_DAY:
        steps += draw(st.lists(STEPS, max_size=2))
        spools = draw(st.integers(1, 12))
        pause_min = 480 if what == "pack" else 60
        steps.append(Step(what=what, spools=spools, pick=0, after_min=pause_min, late_min=0))
    return steps


def clocks(steps: list[Step]) -> list[Clock]:
    """The clock of each step: told at its turn, happened up to `late_min` before."""
    told, instants = MONDAY, []
    for step in steps:
        told += timedelta(minutes=step.after_min)
        instants.append(Clock(occurred_at=max(MONDAY, told - timedelta(minutes=step.late_min)), known_at=told))
    return instants
