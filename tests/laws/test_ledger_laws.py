"""Laws of the books over random series of facts, on both databases. The laws are those of design section 8."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pytest_django import Settings

from inventory.errors import BooksError
from inventory.models import (
    Allocation,
    Balance,
    Item,
    Movement,
    MovementLine,
    Order,
    OrderLine,
    Run,
    RunOutput,
    ShelfStock,
)
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.check import check_books
from inventory.services.ledger import reverse_movement
from inventory.services.orders import place_order
from inventory.services.places import ensure_places
from inventory.services.receipts import receive_material
from inventory.services.returns import receive_return, restock
from inventory.services.scrap import scrap, take_own_use, take_samples
from inventory.services.shipments import ship_order
from tests.inventory.builders import TinyPlant, build_tiny_plant, no_capacity, put_in_store, put_on_shelf
from tests.inventory.undoing import undone
from tests.laws.series import FACTS, KG, MONDAY, STEPS, Step, clocks, working_days

pytestmark = pytest.mark.django_db
# Each example runs in a savepoint that is rolled back, so the plant may be shared between them.
SHARED = settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
NOON = Clock.at(MONDAY + timedelta(hours=5))
LATER = Clock.at(MONDAY + timedelta(hours=6))


@pytest.fixture
def plant(db: None, settings: Settings) -> TinyPlant:
    settings.EARLIEST_CAPACITY_DAY = f"{no_capacity.__module__}.no_capacity"
    tiny = build_tiny_plant()
    ensure_places()
    put_in_store(tiny.black.material.resin_item, "30", lot_code="R0")
    put_in_store(tiny.black.colour.concentrate_item, "1", lot_code="C0")
    put_on_shelf(tiny.black_1kg, 6, lot_code="S0")
    put_on_shelf(tiny.black_1kg, 4, lot_code="S1")
    return tiny


def _state() -> tuple[object, ...]:
    """Everything that a refused fact must leave as it was."""
    tables = (
        Balance.objects.exclude(quantity=0).order_by("place", "lot").values_list("place", "lot", "quantity"),
        ShelfStock.objects.order_by("sku").values_list("sku", "on_shelf", "allocated"),
        RunOutput.objects.order_by("id").values_list("id", "awaited", "allocated", "shelf_at"),
        Allocation.objects.order_by("id").values_list("id", "quantity", "end"),
        OrderLine.objects.order_by("id").values_list("id", "quantity", "shipped", "promised_day"),
        Order.objects.order_by("id").values_list("id", "state"),
        Run.objects.order_by("id").values_list("id", "state"),
        Movement.objects.order_by("id").values_list("id"),
    )
    return tuple(tuple(rows) for rows in tables)


def _live(steps: list[Step]) -> Counter[str]:
    """Post the steps; every refusal must be a rule of the books and leave everything as it was."""
    outcome: Counter[str] = Counter()
    for step, clock in zip(steps, clocks(steps), strict=True):
        before = _state()
        try:
            FACTS[step.what](step, clock)
            outcome["accepted"] += 1
        except BooksError:
            outcome["refused"] += 1
            assert _state() == before, step
        assert check_books() == [], step
    return outcome


@SHARED
@given(st.lists(STEPS, min_size=1, max_size=12))
def test_books_stay_right_over_any_series_of_facts(plant: TinyPlant, steps: list[Step]) -> None:
    with undone():
        _live(steps)


@SHARED
@given(working_days())
def test_books_stay_right_over_any_working_day(plant: TinyPlant, steps: list[Step]) -> None:
    with undone():
        assert _live(steps)["accepted"] >= 3


def _scrap_spools(*, sku_code: str, quantity: int, clock: Clock, reason: str) -> Movement:
    return scrap(item_code=sku_code, quantity=quantity, clock=clock, reason=reason)


@SHARED
@given(st.sampled_from([_scrap_spools, take_own_use, take_samples]), st.integers(1, 10))
def test_taking_and_reversing_is_the_identity(plant: TinyPlant, take: object, spools: int) -> None:
    before = _state()[:2]
    with undone():
        movement = take(sku_code=KG, quantity=spools, clock=NOON, reason="law")
        assert _state()[:2] != before
        reverse_movement(movement_id=movement.pk, clock=LATER, reason="law")
        assert _state()[:2] == before


@SHARED
@given(st.decimals("0.001", 999, places=3))
def test_receiving_and_reversing_is_the_identity(plant: TinyPlant, quantity: Decimal) -> None:
    before = _state()[:2]
    with undone():
        receive_material(item_code="RESIN-PLA", quantity=quantity, lot_code="R0", clock=NOON)
        reverse_movement(movement_id=Movement.objects.latest("id").pk, clock=LATER, reason="law")
        assert _state()[:2] == before


def _by_lot(kind: str) -> Mapping[str, Decimal]:
    return dict(Balance.objects.filter(place__kind=kind, quantity__gt=0).values_list("lot__code", "quantity"))


@SHARED
@given(st.integers(1, 10))
def test_shipping_returning_and_restocking_is_the_identity_on_the_shelf(plant: TinyPlant, spools: int) -> None:
    before = _by_lot("shelf")
    with undone():
        place_order(body=OrderDraft(channel_code="WEB", reference="A", lines=[(KG, spools)]), clock=NOON)
        ship_order(order_id=Order.objects.get().pk, lines=None, clock=NOON)
        for lot_code, quantity in _by_lot("customer").items():
            receive_return(sku_code=KG, lot_code=lot_code, quantity=int(quantity), clock=LATER)
            restock(sku_code=KG, lot_code=lot_code, quantity=int(quantity), clock=LATER)
        assert _by_lot("shelf") == before
        assert check_books() == []


@SHARED
@given(working_days())
def test_every_item_is_conserved_over_all_places(plant: TinyPlant, steps: list[Step]) -> None:
    """Whatever happens, what left one place is in another: the balances of an item add up to nothing."""
    with undone():
        _live(steps)
        totals: Counter[int] = Counter()
        for item_id, quantity in Balance.objects.values_list("item_id", "quantity"):
            totals[item_id] += quantity
        assert set(totals.values()) == {0}
        assert Item.objects.filter(pk__in=totals).count() == len(totals)
        assert not MovementLine.objects.filter(quantity__lte=0).exists()
