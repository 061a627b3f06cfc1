"""Holds for quality. Quantities by hand: common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest

from inventory.errors import NotFoundError
from inventory.models import Lot, OrderLine, RunOutput
from inventory.services.counts import post_count
from inventory.services.holds import LotNotHeldError, hold_lot, release_lot
from inventory.services.ledger import LotHeldError
from inventory.services.scrap import scrap
from tests.inventory.books.floor import KG, finished, loaded, packed
from tests.inventory.books.reading import awaited, lying, shelf
from tests.inventory.builders import TinyPlant, clock, put_in_store, put_on_shelf

pytestmark = pytest.mark.django_db
Ordering = Callable[..., int]
MONDAY, NOON = clock("2027-03-01 10:00"), clock("2027-03-01 12:00")


def test_hold_takes_the_lot_off_the_shelf(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    hold_lot(lot_code="S1", clock=MONDAY, reason="diameter")
    assert (shelf(plant.black_1kg), lying(plant.black_1kg, "hold")) == ((0, 0), 5)


def test_hold_promises_orders_anew(plant: TinyPlant, order: Ordering) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    put_on_shelf(plant.black_1kg, 2, lot_code="S2")
    order("A", {plant.black_1kg: 4})
    hold_lot(lot_code="S1", clock=MONDAY, reason="diameter")
    assert (shelf(plant.black_1kg), OrderLine.objects.get().promised_day) == ((2, 2), None)


def test_hold_of_a_lot_in_two_places_takes_both(stores: TinyPlant) -> None:
    run = packed(spools=30)
    hold_lot(lot_code=f"{run.code}-{KG}", clock=clock("2027-03-02 09:00"), reason="diameter")
    assert (lying(stores.black_1kg, "hold"), shelf(stores.black_1kg), awaited(run.code, stores.black_1kg)) == (
        38,
        (0, 0),
        0,
    )


def test_release_puts_the_lot_back_where_it_was(stores: TinyPlant) -> None:
    run = packed(spools=30)
    hold_lot(lot_code=f"{run.code}-{KG}", clock=clock("2027-03-02 09:00"), reason="diameter")
    release_lot(lot_code=f"{run.code}-{KG}", clock=clock("2027-03-02 10:00"), reason="measured again")
    # 30 were on the shelf; 8 were in the oven, which has been broken off: they dry again.
    assert (shelf(stores.black_1kg), lying(stores.black_1kg, "wound")) == ((30, 0), 8)


def test_hold_in_the_pipeline_takes_the_promise_and_release_gives_it_back(stores: TinyPlant, order: Ordering) -> None:
    order("A", {stores.black_1kg: 38}, at="2027-03-01 06:30")
    run = finished().run
    hold_lot(lot_code=f"{run.code}-{KG}", clock=clock("2027-03-01 15:00"), reason="diameter")
    assert OrderLine.objects.get().promised_day is None
    release_lot(lot_code=f"{run.code}-{KG}", clock=clock("2027-03-02 08:00"), reason="measured again")
    # Loaded on Tuesday at 17:00, shelved on Wednesday.
    assert OrderLine.objects.get().promised_day == date(2027, 3, 3)


def test_release_after_a_part_was_scrapped_puts_back_the_rest(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    hold_lot(lot_code="S1", clock=MONDAY, reason="diameter")
    scrap(item_code=KG, quantity=2, place_kind="hold", clock=MONDAY, reason="out of range")
    release_lot(lot_code="S1", clock=NOON, reason="the rest is right")
    assert shelf(plant.black_1kg) == (3, 0)


def test_release_of_what_was_counted_into_the_hold_goes_to_the_bench(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    hold_lot(lot_code="S1", clock=MONDAY, reason="diameter")
    post_count(sku_code=KG, place_kind="hold", counted=Decimal(6), clock=MONDAY)
    release_lot(lot_code="S1", clock=NOON, reason="right")
    assert (shelf(plant.black_1kg), lying(plant.black_1kg, "packing")) == ((5, 0), 1)


def test_held_resin_is_not_drawn_by_a_run(stores: TinyPlant) -> None:
    resin = stores.black.material.resin_item
    put_in_store(resin, "100", lot_code="OLDER", at="2027-02-01 08:00")
    hold_lot(lot_code="OLDER", clock=clock("2027-03-01 07:00"), reason="wet bags")
    finished()
    assert (lying(resin, "hold"), lying(resin, "count_difference")) == (100, 0)


def test_hold_of_what_has_left_marks_the_lot(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    scrap(item_code=KG, quantity=5, clock=MONDAY, reason="torn")
    assert hold_lot(lot_code="S1", clock=NOON, reason="diameter") is None
    assert Lot.objects.get().is_held is True
    assert release_lot(lot_code="S1", clock=NOON, reason="right") is None
    assert Lot.objects.get().is_held is False


def test_hold_in_an_oven_leaves_the_other_spools_drying(stores: TinyPlant) -> None:
    loaded()
    run_code = RunOutput.objects.first().run.code
    hold_lot(lot_code=f"{run_code}-{KG}", clock=clock("2027-03-01 18:00"), reason="diameter")
    assert (lying(stores.black_1kg, "oven"), lying(stores.black_1kg, "hold")) == (0, 38)


def test_hold_is_refused_twice(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    hold_lot(lot_code="S1", clock=MONDAY, reason="diameter")
    with pytest.raises(LotHeldError, match="held already"):
        hold_lot(lot_code="S1", clock=NOON, reason="diameter")


def test_release_is_refused_when_not_held(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    with pytest.raises(LotNotHeldError, match="Lot S1 is not held"):
        release_lot(lot_code="S1", clock=NOON, reason="right")


def test_hold_is_refused_of_an_unknown_lot(plant: TinyPlant) -> None:
    with pytest.raises(NotFoundError, match="Lot 'S9'"):
        hold_lot(lot_code="S9", clock=NOON, reason="diameter")
