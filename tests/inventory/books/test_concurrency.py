"""The floor works at once: real connections, one thread each. Everything posted, nothing deadlocked, books right."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import partial

import pytest

from inventory.models import Run
from inventory.rules.order_draft import OrderDraft
from inventory.services.counts import post_count
from inventory.services.holds import hold_lot
from inventory.services.orders import place_order
from inventory.services.ovens import load_oven
from inventory.services.packing import pack
from inventory.services.receipts import receive_material
from inventory.services.scrap import scrap
from tests.inventory.at_once import at_once
from tests.inventory.books.floor import KG, QUARTER, finish, loaded, started
from tests.inventory.books.reading import lying, shelf
from tests.inventory.builders import TinyPlant, clock, put_in_store, put_on_shelf

pytestmark = pytest.mark.django_db(transaction=True)
NOON, NEXT_DAY = clock("2027-03-01 12:00"), clock("2027-03-02 08:00")


def _kinds(answers: list[object]) -> list[str]:
    return [type(answer).__name__ for answer in answers]


def test_takers_at_once_never_take_the_same_spools(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 10)
    take = partial(scrap, item_code=KG, quantity=3, clock=NOON, reason="torn")
    answers = at_once(*[take] * 5)
    assert sorted(_kinds(answers)) == ["Movement"] * 3 + ["NotEnoughStockError"] * 2
    assert shelf(plant.black_1kg) == (1, 0)


def test_first_deliveries_of_a_lot_at_once_add_up(plant: TinyPlant) -> None:
    receive = partial(receive_material, item_code="RESIN-PLA", quantity=Decimal(25), lot_code="R1", clock=NOON)
    assert _kinds(at_once(*[receive] * 4)) == ["Lot"] * 4
    assert lying(plant.black.material.resin_item, "resin_store") == 100


def test_run_is_finished_once_when_reported_twice_at_once(stores: TinyPlant) -> None:
    run = started()
    report = partial(finish, run, scrap={}, purge_kg="1")
    assert sorted(_kinds(at_once(report, report))) == ["RunFinished", "RunStateError"]
    assert lying(stores.black_1kg, "wound") == 38


def test_packing_loading_counting_ordering_and_holding_at_once_do_not_deadlock(stores: TinyPlant) -> None:
    loaded()
    run = Run.objects.get()
    put_on_shelf(stores.natural_1kg, 9, lot_code="N1")
    put_on_shelf(stores.black_1kg, 9, lot_code="S1")
    order = OrderDraft(channel_code="WEB", reference="A", lines=[("PETG-NAT-1000", 2), (KG, 2), (QUARTER, 2)])
    calls: list[Callable[[], object]] = [
        partial(pack, spools=[(run.code, KG, 20)], clock=NEXT_DAY),
        partial(load_oven, oven_code="O1", spools=[(run.code, QUARTER, 10)], clock=NEXT_DAY),
        partial(post_count, sku_code=KG, place_kind="shelf", counted=Decimal(5), clock=NEXT_DAY),
        partial(place_order, body=order, clock=NEXT_DAY),
        partial(hold_lot, lot_code="N1", clock=NEXT_DAY, reason="diameter"),
        partial(scrap, item_code=QUARTER, quantity=1, place_kind="wound", clock=NEXT_DAY, reason="torn"),
    ]
    # Whoever comes first, nobody is refused: each finds enough left, and no connection waits for another in a ring.
    assert [answer for answer in at_once(*calls) if isinstance(answer, Exception)] == []


def test_takers_of_one_resin_at_once_never_take_too_much(stores: TinyPlant) -> None:
    put_in_store(stores.natural.material.resin_item, "10", lot_code="P2")
    take = partial(scrap, item_code="RESIN-PETG", quantity=60, place_kind="resin_store", clock=NOON, reason="wet")
    # 200 kg and 10 kg in two lots: three times 60 kg.
    assert sorted(_kinds(at_once(*[take] * 5))) == ["Movement"] * 3 + ["NotEnoughStockError"] * 2
    assert lying(stores.natural.material.resin_item, "resin_store") == 30
