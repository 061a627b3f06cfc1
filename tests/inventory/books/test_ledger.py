"""Posting movements. Quantities are added and taken by hand: common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Lot, Movement, MovementLine, Sku
from inventory.services.ledger import (
    LineDraft,
    LotHeldError,
    NotEnoughStockError,
    NotReversibleError,
    place,
    post_movement,
    reverse_movement,
)
from inventory.services.receipts import receive_material
from inventory.services.scrap import scrap
from tests.inventory.books.reading import lying, shelf
from tests.inventory.builders import TinyPlant, clock, local, put_in_store, put_on_shelf

pytestmark = pytest.mark.django_db
MONDAY = "2027-03-01 10:00"


def _scrap(lot: Lot, quantity: str, *, at: str = MONDAY, source: str = "shelf") -> Movement:
    line = LineDraft(lot.item_id, lot.pk, Decimal(quantity), place(source), place("scrap"))
    return post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=clock(at))


def test_movement_moves_the_quantity_between_its_places(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    _scrap(lot, "2")
    assert (lying(plant.black_1kg, "shelf"), lying(plant.black_1kg, "scrap")) == (3, 2)


def test_movement_keeps_the_shelf_count(plant: TinyPlant) -> None:
    _scrap(put_on_shelf(plant.black_1kg, 5), "2")
    assert shelf(plant.black_1kg) == (3, 0)


def test_movement_is_refused_when_a_physical_place_would_fall_below_zero(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    with pytest.raises(NotEnoughStockError, match=r"6 asked for at .*, but only 5 is there"):
        _scrap(lot, "6")
    assert shelf(plant.black_1kg) == (5, 0)


def test_movement_of_several_lines_takes_effect_as_a_whole(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    lines = [LineDraft(lot.item_id, lot.pk, Decimal(3), place("shelf"), place("scrap"))] * 2
    with pytest.raises(NotEnoughStockError, match="6 asked for"):
        post_movement(kind=Movement.Kind.SCRAP, lines=lines, clock=clock(MONDAY))
    assert MovementLine.objects.count() == 1


@pytest.mark.parametrize(
    ("quantity", "message"),
    [
        ("0", "must be a number above 0"),
        ("-1", "must be a number above 0"),
        ("NaN", "must be a number above 0"),
        ("1.5", "must be a whole number of spools"),
        ("100000000000", "must be below"),
    ],
)
def test_quantity_is_refused_when_absurd(plant: TinyPlant, quantity: str, message: str) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    with pytest.raises(InvalidInputError, match=message) as refusal:
        _scrap(lot, quantity)
    assert refusal.value.pointer == "/lines/0/quantity"


def test_quantity_is_refused_when_finer_than_a_gram(plant: TinyPlant) -> None:
    lot = put_in_store(plant.black.material.resin_item, "25", lot_code="R1")
    with pytest.raises(InvalidInputError, match="whole grams"):
        _scrap(lot, "0.0005", source="resin_store")


def test_movement_without_lines_is_refused(plant: TinyPlant) -> None:
    with pytest.raises(InvalidInputError, match="at least one line"):
        post_movement(kind=Movement.Kind.SCRAP, lines=[], clock=clock(MONDAY))


def test_movement_is_refused_when_it_goes_a_way_that_its_kind_may_not(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    line = LineDraft(lot.item_id, lot.pk, Decimal(1), place("shelf"), place("supplier"))
    with pytest.raises(InvalidInputError, match="kind scrap cannot go from shelf to supplier"):
        post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=clock(MONDAY))


def test_movement_is_refused_when_the_lot_is_of_another_item(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    line = LineDraft(plant.black_250g.pk, lot.pk, Decimal(1), place("shelf"), place("scrap"))
    with pytest.raises(InvalidInputError, match="not of the item named"):
        post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=clock(MONDAY))


def test_movement_is_refused_when_the_lot_does_not_exist(plant: TinyPlant) -> None:
    line = LineDraft(plant.black_250g.pk, 999, Decimal(1), place("shelf"), place("scrap"))
    with pytest.raises(NotFoundError, match="Lot 999"):
        post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=clock(MONDAY))


def test_material_is_refused_on_the_shelf(plant: TinyPlant) -> None:
    lot = Lot.objects.create(code="R1", item=plant.black.material.resin_item, created_at=local(MONDAY))
    line = LineDraft(lot.item_id, lot.pk, Decimal(1), place("opening"), place("shelf"))
    with pytest.raises(InvalidInputError, match="only SKUs go to the shelf"):
        post_movement(kind=Movement.Kind.OPENING, lines=[line], clock=clock(MONDAY))


def test_held_lot_is_refused_on_the_shelf(plant: TinyPlant) -> None:
    lot = Lot.objects.create(code="S1", item=plant.black_1kg.item, created_at=local(MONDAY), is_held=True)
    line = LineDraft(lot.item_id, lot.pk, Decimal(1), place("opening"), place("shelf"))
    with pytest.raises(LotHeldError, match="held for quality"):
        post_movement(kind=Movement.Kind.OPENING, lines=[line], clock=clock(MONDAY))


@pytest.mark.parametrize("field", ["reason", "document"])
def test_text_is_refused_when_longer_than_its_column(plant: TinyPlant, field: str) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    line = LineDraft(lot.item_id, lot.pk, Decimal(1), place("shelf"), place("scrap"))
    with pytest.raises(InvalidInputError, match=f"{field} has 201 characters"):
        post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=clock(MONDAY), **{field: "x" * 201})


def test_reversal_restores_what_was_before(plant: TinyPlant) -> None:
    movement = _scrap(put_on_shelf(plant.black_1kg, 5), "2")
    reverse_movement(movement_id=movement.pk, clock=clock("2027-03-01 11:00"), reason="wrong lot")
    assert (lying(plant.black_1kg, "shelf"), lying(plant.black_1kg, "scrap")) == (5, 0)


def test_reversal_is_refused_when_repeated(plant: TinyPlant) -> None:
    movement = _scrap(put_on_shelf(plant.black_1kg, 5), "2")
    reverse_movement(movement_id=movement.pk, clock=clock(MONDAY), reason="wrong lot")
    with pytest.raises(NotReversibleError, match="reversed already"):
        reverse_movement(movement_id=movement.pk, clock=clock(MONDAY), reason="wrong lot")


def test_reversal_is_refused_of_a_reversal(plant: TinyPlant) -> None:
    movement = _scrap(put_on_shelf(plant.black_1kg, 5), "2")
    reversal = reverse_movement(movement_id=movement.pk, clock=clock(MONDAY), reason="wrong lot")
    with pytest.raises(NotReversibleError, match="post the original movement again"):
        reverse_movement(movement_id=reversal.pk, clock=clock(MONDAY), reason="wrong lot")


def test_reversal_is_refused_before_its_movement(plant: TinyPlant) -> None:
    movement = _scrap(put_on_shelf(plant.black_1kg, 5), "2")
    with pytest.raises(InvalidInputError, match="is before its movement"):
        reverse_movement(movement_id=movement.pk, clock=clock("2027-03-01 09:59"), reason="wrong lot")


def test_reversal_is_refused_when_what_came_in_was_used(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    scrap(item_code="PLA-BLACK-1000", quantity=1, clock=clock(MONDAY), reason="torn")
    opening = Movement.objects.get(kind="opening")
    with pytest.raises(NotEnoughStockError):
        reverse_movement(movement_id=opening.pk, clock=clock("2027-03-01 11:00"), reason="typed twice")


def test_reversal_is_refused_of_an_unknown_movement(plant: TinyPlant) -> None:
    with pytest.raises(NotFoundError, match="Movement 7 "):
        reverse_movement(movement_id=7, clock=clock(MONDAY), reason="wrong lot")


def _queries_of_opening(skus: list[Sku], queries_of: Callable[..., int]) -> int:
    lots = Lot.objects.bulk_create(Lot(code=f"L{sku.pk}", item=sku.item, created_at=local(MONDAY)) for sku in skus)
    source, target = place("opening"), place("shelf")
    lines = [LineDraft(lot.item_id, lot.pk, Decimal(4), source, target) for lot in lots]
    return queries_of(lambda: post_movement(kind=Movement.Kind.OPENING, lines=lines, clock=clock(MONDAY)))


def test_movement_of_twenty_lines_costs_the_queries_of_one(
    plant: TinyPlant, many_skus: list[Sku], queries_of: Callable[..., int]
) -> None:
    assert _queries_of_opening(many_skus[:20], queries_of) == _queries_of_opening(many_skus[20:21], queries_of)


def test_receipt_is_found_under_its_document(plant: TinyPlant) -> None:
    receive_material(
        item_code="RESIN-PLA",
        quantity=Decimal("25.5"),
        lot_code="R1",
        supplier_lot="A-77",
        clock=clock(MONDAY),
        document="note 12",
    )
    assert Movement.objects.get(document="note 12").lines.get().quantity == Decimal("25.5")
