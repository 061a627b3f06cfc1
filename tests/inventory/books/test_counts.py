"""Counts: what lies there is true. Differences by hand: common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Allocation, Movement, PromiseChange
from inventory.services.counts import CountContradictedError, post_count
from inventory.services.scrap import scrap
from tests.inventory.books.floor import KG, QUARTER, finished
from tests.inventory.books.reading import awaited, lots_of, lying, shelf
from tests.inventory.builders import TinyPlant, clock, late, put_in_store, put_on_shelf

pytestmark = pytest.mark.django_db
Ordering = Callable[..., int]
MONDAY = clock("2027-03-01 10:00")


def _count(counted: int | str, **fields: object) -> Movement | None:
    body = {"sku_code": KG, "place_kind": "shelf", "clock": MONDAY}
    return post_count(counted=Decimal(counted), **{**body, **fields})


def test_count_that_agrees_posts_nothing(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    assert _count(5) is None
    assert Movement.objects.count() == 1


def test_missing_spools_leave_the_oldest_lot(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 3, lot_code="OLD", at="2027-02-01 08:00")
    put_on_shelf(plant.black_1kg, 3, lot_code="NEW", at="2027-02-02 08:00")
    assert lots_of(_count(2).pk) == [("OLD", 3), ("NEW", 1)]
    assert shelf(plant.black_1kg) == (2, 0)


def test_found_spools_join_the_only_lot_there(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    assert lots_of(_count(7).pk) == [("S1", 2)]


def test_found_spools_are_of_unknown_origin_when_several_lots_lie_there(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 3, lot_code="S1")
    put_on_shelf(plant.black_1kg, 3, lot_code="S2")
    assert lots_of(_count(7).pk) == [("UNKNOWN-PLA-BLACK-1000", 1)]


def test_count_of_one_lot_leaves_the_others(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 3, lot_code="S1")
    put_on_shelf(plant.black_1kg, 3, lot_code="S2")
    assert lots_of(_count(1, lot_code="S2").pk) == [("S2", 2)]
    assert shelf(plant.black_1kg) == (4, 0)


def test_count_below_what_is_promised_frees_the_latest_order(plant: TinyPlant, order: Ordering) -> None:
    put_on_shelf(plant.black_1kg, 10)
    first = order("A", {plant.black_1kg: 6}, at="2027-03-01 08:00")
    order("B", {plant.black_1kg: 4}, at="2027-03-01 09:00")
    _count(7)
    held = Allocation.objects.filter(end="")
    assert sorted((row.order_line.order_id == first, row.quantity) for row in held) == [(False, 1), (True, 6)]
    assert PromiseChange.objects.first().new_day is None


def test_found_spools_serve_an_order_that_waits(plant: TinyPlant, order: Ordering) -> None:
    put_on_shelf(plant.black_1kg, 3)
    order("A", {plant.black_1kg: 5}, at="2027-03-01 08:00")
    _count(6)
    assert shelf(plant.black_1kg) == (6, 5)


def test_count_of_wound_spools_changes_what_is_awaited(stores: TinyPlant) -> None:
    run = finished().run
    _count(35, place_kind="wound", clock=clock("2027-03-01 15:00"))
    assert awaited(run.code, stores.black_1kg) == 35


def test_count_of_wound_spools_takes_promises_back(stores: TinyPlant, order: Ordering) -> None:
    order("A", {stores.black_250g: 20}, at="2027-03-01 06:30")
    run = finished().run
    _count(18, sku_code=QUARTER, place_kind="wound", clock=clock("2027-03-01 15:00"))
    assert (awaited(run.code, stores.black_250g), Allocation.objects.get(end="").quantity) == (18, 18)


def test_count_of_material_in_kg(plant: TinyPlant) -> None:
    put_in_store(plant.black.material.resin_item, "25", lot_code="R1")
    _count("24.25", sku_code=None, item_code="RESIN-PLA", place_kind="resin_store")
    assert lying(plant.black.material.resin_item, "count_difference") == Decimal("0.75")


def test_late_count_is_compared_with_the_books_of_its_instant(plant: TinyPlant) -> None:
    # 10 at 06:00; counted 9 at 08:00, posted at noon; 4 left at 10:00. One is missing: 5 remain, not 9.
    put_on_shelf(plant.black_1kg, 10)
    scrap(item_code=KG, quantity=4, clock=MONDAY, reason="torn")
    _count(9, clock=late("2027-03-01 08:00", "2027-03-01 12:00"))
    assert shelf(plant.black_1kg) == (5, 0)


def test_late_count_is_refused_when_more_left_after_it(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 10)
    scrap(item_code=KG, quantity=4, clock=MONDAY, reason="torn")
    with pytest.raises(CountContradictedError, match=r"7 below the books .* used all but 6 of it"):
        _count(3, clock=late("2027-03-01 08:00", "2027-03-01 12:00"))


@pytest.mark.parametrize(
    ("counted", "fields", "error", "message"),
    [
        (-1, {}, InvalidInputError, "above 0"),
        ("1.5", {}, InvalidInputError, "whole number of spools"),
        (1, {"place_kind": "customer"}, InvalidInputError, "Place 'customer' must be one of"),
        (1, {"place_kind": "oven"}, InvalidInputError, "Place 'oven' must be one of"),
        (1, {"sku_code": None}, InvalidInputError, "either a SKU or an item"),
        (1, {"item_code": "RESIN-PLA"}, InvalidInputError, "either a SKU or an item"),
        (1, {"sku_code": "PLA-PINK"}, NotFoundError, "SKU 'PLA-PINK'"),
        (1, {"lot_code": "S9"}, NotFoundError, "Lot 'S9' of PLA-BLACK-1000"),
    ],
)
def test_count_is_refused(
    plant: TinyPlant, counted: int | str, fields: dict[str, object], error: type[Exception], message: str
) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with pytest.raises(error, match=message):
        _count(counted, **fields)
    assert shelf(plant.black_1kg) == (5, 0)
