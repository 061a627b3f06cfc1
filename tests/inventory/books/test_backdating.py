"""Facts that the books learn of late. The running balances are added by hand: common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Lot, Movement
from inventory.services.ledger import LineDraft, NotEnoughStockError, place, post_movement
from tests.inventory.books.reading import lying
from tests.inventory.builders import TinyPlant, late, open_stock, put_on_shelf

pytestmark = pytest.mark.django_db


def _scrap(lot: Lot, spools: int, *, occurred: str, known: str) -> Movement:
    line = LineDraft(lot.item_id, lot.pk, Decimal(spools), place("shelf"), place("scrap"))
    return post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=late(occurred, known))


def _add(lot: Lot, spools: int, *, occurred: str, known: str) -> None:
    line = LineDraft(lot.item_id, lot.pk, Decimal(spools), place("opening"), place("shelf"))
    post_movement(kind=Movement.Kind.OPENING, lines=[line], clock=late(occurred, known))


def test_late_posting_is_accepted_when_enough_was_there_then(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5, at="2027-03-01 06:00")
    _scrap(lot, 2, occurred="2027-03-01 10:00", known="2027-03-01 10:00")
    _scrap(lot, 3, occurred="2027-03-01 07:00", known="2027-03-01 12:00")
    assert lying(plant.black_1kg, "shelf") == 0


def test_late_posting_is_refused_when_the_stock_came_later(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5, at="2027-03-01 09:00")
    with pytest.raises(NotEnoughStockError, match="but only 0 is there then and since"):
        _scrap(lot, 1, occurred="2027-03-01 08:00", known="2027-03-01 12:00")


def test_late_posting_is_refused_when_a_balance_in_between_would_be_negative(plant: TinyPlant) -> None:
    # 5 at 06:00, 4 left at 10:00 (so 1), 6 came at 11:00 (so 7 now): at most 1 can have left at 07:00.
    lot = put_on_shelf(plant.black_1kg, 5, at="2027-03-01 06:00")
    _scrap(lot, 4, occurred="2027-03-01 10:00", known="2027-03-01 10:00")
    _add(lot, 6, occurred="2027-03-01 11:00", known="2027-03-01 11:00")
    with pytest.raises(NotEnoughStockError, match=r"2 asked for at .* but only 1 is there"):
        _scrap(lot, 2, occurred="2027-03-01 07:00", known="2027-03-01 12:00")
    assert lying(plant.black_1kg, "shelf") == 7


def test_late_posting_of_what_was_there_in_between_is_accepted(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5, at="2027-03-01 06:00")
    _scrap(lot, 4, occurred="2027-03-01 10:00", known="2027-03-01 10:00")
    _add(lot, 6, occurred="2027-03-01 11:00", known="2027-03-01 11:00")
    _scrap(lot, 1, occurred="2027-03-01 07:00", known="2027-03-01 12:00")
    assert lying(plant.black_1kg, "shelf") == 6


def test_posting_is_refused_when_what_was_known_then_would_be_negative(plant: TinyPlant) -> None:
    # The delivery happened at 07:00 but was known at 12:00: a reader as of 10:00 would see 0 less 1.
    lot = Lot.objects.create(
        code="L1", item=plant.black_1kg.item, created_at=late("2027-03-01 07:00", "2027-03-01 12:00").occurred_at
    )
    _add(lot, 5, occurred="2027-03-01 07:00", known="2027-03-01 12:00")
    with pytest.raises(NotEnoughStockError, match="only 0 is there"):
        _scrap(lot, 1, occurred="2027-03-01 08:00", known="2027-03-01 10:00")


def test_movements_of_one_instant_count_in_the_order_of_posting(plant: TinyPlant) -> None:
    lot = open_stock(plant.black_1kg.item, Decimal(5), lot_code="L1", at="2027-03-01 06:00", to="shelf")
    _scrap(lot, 5, occurred="2027-03-01 06:00", known="2027-03-01 06:00")
    assert lying(plant.black_1kg, "shelf") == 0
