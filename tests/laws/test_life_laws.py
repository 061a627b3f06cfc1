"""The whole life of orders, runs and stock as a state machine, with a model beside it that must tell the same.

The model knows no lots, days or allocations; it knows how many spools there are and how many are wanted. Of these
follow the laws that matter: every promise is of spools that exist or are awaited, and whoever waits is promised of
whatever is free. What the model forbids the books must refuse, and be left as they were.
"""

from __future__ import annotations

from collections import Counter
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db.models import Sum
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule, run_state_machine_as_test
from pytest_django import Settings

from inventory.errors import BooksError
from inventory.models import Balance, Lot
from inventory.order_errors import UnknownSkuError
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.orders import order_receipt
from inventory.services.counts import post_count
from inventory.services.holds import hold_lot, release_lot
from inventory.services.orders import Arrival, amend_order, cancel_order, place_order, place_orders
from inventory.services.ovens import load_oven
from inventory.services.packing import pack
from inventory.services.places import ensure_places
from inventory.services.runs import cancel_run, finish_run, release_run, resize_run, start_run
from inventory.services.scrap import scrap
from inventory.services.shipments import ship_order
from tests.inventory.builders import build_tiny_plant, local, put_in_store, put_on_shelf
from tests.inventory.undoing import undone
from tests.laws.life_invariants import BooksTellTheModel
from tests.laws.life_model import NEEDS_OVEN, SKUS, Model, ModelOrder, ModelRun

pytestmark = pytest.mark.django_db
FILAMENTS = dict(zip(SKUS, ("PETG-NATURAL-1.75", "PLA-BLACK-1.75"), strict=True))
OPENING = 6
# Longer than the six hours of drying and the hours of any run: whatever was begun is over at the next step.
STEP = timedelta(hours=7)
skus, spools, picks = st.sampled_from(SKUS), st.integers(1, 9), st.integers(0, 99)


@pytest.fixture
def plant(db: None, settings: Settings) -> None:
    """The tiny plant with material for any number of runs, and a few spools of both SKUs on the shelf."""
    settings.EARLIEST_CAPACITY_DAY = "tests.inventory.builders.no_capacity"
    tiny = build_tiny_plant()
    ensure_places()
    items = [tiny.black.material.resin_item, tiny.natural.material.resin_item, tiny.black.colour.concentrate_item]
    size = tiny.black_1kg.spool_size
    for number, item in enumerate([*items, size.spool_part, size.box_item]):
        put_in_store(item, "9999", lot_code=f"STORE-{number}")
    for sku in (tiny.natural_1kg, tiny.black_1kg):
        put_on_shelf(sku, OPENING)


class Life(BooksTellTheModel):
    """Any series of what may happen in the plant."""

    def __init__(self) -> None:
        super().__init__()
        self.undo = ExitStack()
        self.undo.enter_context(undone())
        self.now: datetime = local("2027-03-01 08:00").astimezone(UTC)
        self.model = Model(shelf=Counter(dict.fromkeys(SKUS, OPENING)), came=Counter(dict.fromkeys(SKUS, OPENING)))

    def teardown(self) -> None:
        self.undo.close()

    def clock(self) -> Clock:
        self.now += STEP
        return Clock.at(self.now)

    def code(self, pick: int, *states: str) -> str:
        codes = [code for code, run in self.model.runs.items() if run.state in states]
        return codes[pick % len(codes)]

    def order_id(self, pick: int) -> int:
        ids = [pk for pk, order in self.model.orders.items() if order.state == "open"]
        return ids[pick % len(ids)]

    def has_run(self, *states: str) -> bool:
        return any(run.state in states for run in self.model.runs.values())

    def has_open_order(self) -> bool:
        return any(order.state == "open" for order in self.model.orders.values())

    @rule(sku=skus, first=spools, second=st.integers(0, 4), may_part_ship=st.booleans())
    def place(self, sku: str, first: int, second: int, may_part_ship: bool) -> None:
        other = SKUS[1 - SKUS.index(sku)]
        wanted = Counter({sku: first}) + Counter({other: second})
        draft = OrderDraft("WEB", f"O-{len(self.model.orders)}", list(wanted.items()), may_part_ship=may_part_ship)
        receipt = place_order(body=draft, clock=self.clock())
        self.model.orders[receipt.order_id] = ModelOrder(may_part_ship, wanted)

    @rule(wanted=st.lists(st.tuples(skus, spools), min_size=2, max_size=4))
    def place_together(self, wanted: list[tuple[str, int]]) -> None:
        clock, first = self.clock(), len(self.model.orders)
        drafts = [OrderDraft("WEB", f"O-{number}", [line]) for number, line in enumerate(wanted, start=first)]
        # The first once more, and one of an SKU that nobody knows: neither takes anything.
        unknown = OrderDraft("WEB", "O-UNKNOWN", [("NO-SUCH-SKU", 1)])
        arrivals = [Arrival(draft, clock) for draft in (*drafts, drafts[0], unknown)]
        *receipts, repeat, refused = place_orders(arrivals)
        assert isinstance(refused, UnknownSkuError)
        assert repeat == replace(receipts[0], replayed=True, earliest_capacity_day=None)
        for receipt, (sku, number) in zip(receipts, wanted, strict=True):
            self.model.orders[receipt.order_id] = ModelOrder(False, Counter({sku: number}))

    @precondition(has_open_order)
    @rule(pick=picks, sku=skus, wanted=spools)
    def amend(self, pick: int, sku: str, wanted: int) -> None:
        order_id = self.order_id(pick)
        order = self.model.orders[order_id]
        target = Counter(order.wanted) | Counter({sku: 0})
        target[sku] = wanted
        if wanted < order.shipped[sku]:
            self.refused(amend_order, order_id=order_id, lines=list(target.items()))
            return
        amend_order(order_id=order_id, lines=list(target.items()), clock=self.clock())
        order.wanted = target
        order.close_if_complete()

    @precondition(has_open_order)
    @rule(pick=picks, by=st.sampled_from(("customer", "shop")))
    def cancel(self, pick: int, by: str) -> None:
        order_id = self.order_id(pick)
        cancel_order(order_id=order_id, by=by, clock=self.clock())
        self.model.orders[order_id].drop_the_rest()

    @precondition(has_open_order)
    @rule(pick=picks)
    def ship(self, pick: int) -> None:
        order_id = self.order_id(pick)
        order = self.model.orders[order_id]
        on_shelf = Counter({line.sku_code: line.from_shelf for line in order_receipt(order_id).lines})
        missing = [sku for sku in SKUS if order.open_spools(sku) > on_shelf[sku]]
        if not on_shelf.total() or (missing and not order.may_part_ship):
            self.refused(ship_order, order_id=order_id)
            return
        ship_order(order_id=order_id, clock=self.clock())
        for sku, number in on_shelf.items():
            order.shipped[sku] += number
            self.model.shelf[sku] -= number
            self.model.gone[sku] += number
        order.close_if_complete()

    @rule(sku=skus, number=spools)
    def release(self, sku: str, number: int) -> None:
        clock = self.clock()
        start = clock.occurred_at + STEP
        times = {"planned_start": start, "planned_end": start + timedelta(hours=2)}
        run = release_run(filament_code=FILAMENTS[sku], line_code="L1", spools={sku: number}, clock=clock, **times)
        self.model.runs[run.code] = ModelRun(sku, number)

    @precondition(lambda self: self.has_run("released", "started"))
    @rule(pick=picks, number=spools)
    def resize(self, pick: int, number: int) -> None:
        code = self.code(pick, "released", "started")
        resize_run(run_code=code, spools={self.model.runs[code].sku: number}, clock=self.clock())
        self.model.runs[code].planned = number

    @precondition(lambda self: self.has_run("released"))
    @rule(pick=picks)
    def cancel_a_run(self, pick: int) -> None:
        code = self.code(pick, "released")
        cancel_run(run_code=code, clock=self.clock())
        self.model.runs[code].state, self.model.runs[code].planned = "cancelled", 0

    @precondition(lambda self: self.has_run("released"))
    @rule(pick=picks)
    def start(self, pick: int) -> None:
        code = self.code(pick, "released")
        if self.has_run("started"):
            self.refused(start_run, run_code=code)
            return
        start_run(run_code=code, clock=self.clock())
        self.model.runs[code].state = "started"

    @precondition(lambda self: self.has_run("started"))
    @rule(good=st.integers(0, 9), scrapped=st.integers(0, 2))
    def finish(self, good: int, scrapped: int) -> None:
        code = self.code(0, "started")
        run = self.model.runs[code]
        report = {"good": {run.sku: good}, "scrap": {run.sku: scrapped}}
        finish_run(run_code=code, **report, real_minutes=Decimal(60), purge_kg=Decimal(1), clock=self.clock())
        run.state, run.wound = "finished", good
        self.model.came[run.sku] += good

    # From the line to the shelf, and off it

    @precondition(lambda self: self.has_run("finished"))
    @rule(pick=picks, number=spools)
    def load(self, pick: int, number: int) -> None:
        code = self.code(pick, "finished")
        run = self.model.runs[code]
        specs = [(code, run.sku, number)]
        # At its own 50 degrees the oven may not dry natural, which takes 60 to 65.
        if number > run.wound or not NEEDS_OVEN[run.sku]:
            self.refused(load_oven, oven_code="O1", spools=specs)
            return
        load_oven(oven_code="O1", spools=specs, clock=self.clock())
        run.wound, run.drying = run.wound - number, run.drying + number

    @precondition(lambda self: self.has_run("finished"))
    @rule(pick=picks, number=spools)
    def pack_some(self, pick: int, number: int) -> None:
        code = self.code(pick, "finished")
        run = self.model.runs[code]
        dry = run.drying if NEEDS_OVEN[run.sku] else run.wound
        if number > dry:
            self.refused(pack, spools=[(code, run.sku, number)])
            return
        pack(spools=[(code, run.sku, number)], clock=self.clock())
        run.drying, run.wound = (run.drying - number, run.wound) if NEEDS_OVEN[run.sku] else (0, run.wound - number)
        self.model.shelf[run.sku] += number

    @rule(sku=skus, found=st.integers(0, 12))
    def count(self, sku: str, found: int) -> None:
        post_count(sku_code=sku, place_kind="shelf", counted=Decimal(found), clock=self.clock(), reason="counted")
        self.model.came[sku] += found - self.model.shelf[sku]
        self.model.shelf[sku] = found

    @rule(sku=skus, number=spools)
    def scrap_some(self, sku: str, number: int) -> None:
        torn = {"item_code": sku, "quantity": number, "place_kind": "shelf", "reason": "torn"}
        if number > self.model.shelf[sku]:
            self.refused(scrap, **torn)
            return
        scrap(**torn, clock=self.clock())
        self.model.shelf[sku] -= number
        self.model.gone[sku] += number

    @precondition(lambda self: any(Lot.objects.filter(run__code=code).exists() for code in self.model.runs))
    @rule(pick=picks)
    def hold_or_release(self, pick: int) -> None:
        code = self.code(pick, "finished")
        run = self.model.runs[code]
        lot = Lot.objects.filter(run__code=code).first()
        if lot is None:
            return
        if run.is_held:
            release_lot(lot_code=lot.code, clock=self.clock(), reason="checked")
            self.model.shelf[run.sku] += run.held_of_shelf
            run.wound += run.held_of_pipeline
            run.held_of_shelf = run.held_of_pipeline = 0
        else:
            # Which lots lie on the shelf is the books' affair: first in, first out.
            run.held_of_shelf = int(on_shelf_of(lot))
            run.held_of_pipeline = run.wound + run.drying
            hold_lot(lot_code=lot.code, clock=self.clock(), reason="ovality")
            self.model.shelf[run.sku] -= run.held_of_shelf
            run.wound = run.drying = 0
        run.is_held = not run.is_held

    def refused(self, service, **fields) -> None:  # type: ignore[no-untyped-def]  # any service
        """What the model forbids is refused; that nothing changed, the invariants say."""
        with pytest.raises(BooksError):
            service(clock=self.clock(), **fields)


def on_shelf_of(lot: Lot) -> Decimal:
    """What of a lot lies on the shelf."""
    lying = Balance.objects.filter(lot=lot, place__kind="shelf")
    return lying.aggregate(spools=Sum("quantity"))["spools"] or Decimal(0)


def test_no_life_of_the_plant_tells_another_story_than_the_model(plant: None) -> None:
    ways = settings(max_examples=8, stateful_step_count=20, suppress_health_check=list(HealthCheck), deadline=None)
    run_state_machine_as_test(Life, settings=ways)
