"""Blind cycle counts: what settles a line, what is posted, what is shown. Sums by hand; common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import partial

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import CountEntry, CountLine, CountSheet, Movement, Sku
from inventory.selectors.count_sheets import count_sheet_row, count_sheet_rows
from inventory.services.counting import Counted, CountSheetError, close_count_sheet, open_count_sheet, record_count
from inventory.services.scrap import scrap
from tests.inventory.at_once import at_once
from tests.inventory.books.count_sheets import NATURAL, NOON, OPENED, count, opened
from tests.inventory.books.floor import KG, QUARTER
from tests.inventory.books.reading import shelf
from tests.inventory.builders import TinyPlant, clock

pytestmark = pytest.mark.django_db


def differences() -> list[tuple[str, str]]:
    return list(Movement.objects.filter(kind="count").values_list("document", "reason"))


def test_sheet_of_a_place_lists_what_belongs_there(shelved: TinyPlant) -> None:
    sheet = open_count_sheet(shelf_places=["A-01"], clock=OPENED)
    assert [line.sku_code for line in count_sheet_row(sheet.code).lines] == [KG, QUARTER]


def test_sheet_of_skus_is_in_the_order_of_their_places(shelved: TinyPlant) -> None:
    row = count_sheet_row(opened(NATURAL, KG).code)
    assert [(line.sku_code, line.shelf_place) for line in row.lines] == [(KG, "A-01"), (NATURAL, "B-02")]


def test_sheet_does_not_show_the_books_before_a_line_is_settled(shelved: TinyPlant) -> None:
    sheet = opened()
    count(sheet, 18)
    [line] = count_sheet_row(sheet.code).lines
    assert (line.state, line.counts, line.counted_spools, line.book_spools) == ("again", 1, None, None)


def test_count_that_agrees_settles_and_posts_nothing(shelved: TinyPlant) -> None:
    sheet = opened()
    assert count(sheet, 20) == Counted(sku_code=KG, counts=1, state="settled")
    [line] = count_sheet_row(sheet.code).lines
    assert (line.counted_spools, line.book_spools, line.movement_id, differences()) == (20, 20, None, [])


def test_difference_within_the_tolerance_is_posted_at_once(shelved: TinyPlant) -> None:
    sheet = opened(tolerance="0.05")
    assert count(sheet, 19).state == "settled"
    assert shelf(shelved.black_1kg) == (19, 0)
    assert differences() == [(sheet.code, "cycle count at A-01")]


def test_difference_outside_the_tolerance_asks_for_a_second_count_and_posts_nothing(shelved: TinyPlant) -> None:
    assert count(opened(tolerance="0.05"), 18).state == "again"
    assert (shelf(shelved.black_1kg), differences()) == ((20, 0), [])


def test_second_count_that_agrees_is_posted_with_its_note(shelved: TinyPlant) -> None:
    sheet = opened()
    count(sheet, 18)
    assert count(sheet, 18, note="two torn", at=clock("2027-03-01 13:00")).state == "settled"
    assert shelf(shelved.black_1kg) == (18, 0)
    assert differences() == [(sheet.code, "cycle count at A-01: two torn")]
    assert CountLine.objects.get().movement == Movement.objects.get(kind="count")


def test_second_count_agrees_though_stock_left_in_between(shelved: TinyPlant) -> None:
    sheet = opened()
    count(sheet, 18)
    scrap(item_code=KG, quantity=5, clock=clock("2027-03-01 12:30"), reason="torn")
    assert count(sheet, 13, at=clock("2027-03-01 13:00")).state == "settled"
    assert shelf(shelved.black_1kg) == (13, 0)


def test_second_count_that_disagrees_asks_for_a_third(shelved: TinyPlant) -> None:
    sheet = opened()
    count(sheet, 18)
    assert count(sheet, 19, at=clock("2027-03-01 13:00")).state == "again"
    assert count(sheet, 19, at=clock("2027-03-01 14:00")) == Counted(sku_code=KG, counts=3, state="settled")
    assert shelf(shelved.black_1kg) == (19, 0)


def test_count_below_what_is_promised_takes_the_promise_back(shelved: TinyPlant, order: Callable[..., int]) -> None:
    order("A", {shelved.black_1kg: 20})
    sheet = opened()
    count(sheet, 15)
    count(sheet, 15, at=clock("2027-03-01 13:00"))
    assert shelf(shelved.black_1kg) == (15, 15)


def test_settled_line_is_not_counted_again(shelved: TinyPlant) -> None:
    sheet = opened()
    count(sheet, 20)
    with pytest.raises(CountSheetError, match="is settled"):
        count(sheet, 19)


def test_closed_sheet_drops_what_was_not_settled_and_frees_it(shelved: TinyPlant) -> None:
    sheet = opened(KG, QUARTER)
    count(sheet, 20)
    assert close_count_sheet(sheet_code=sheet.code, clock=NOON) == 1
    assert [line.state for line in count_sheet_row(sheet.code).lines] == ["settled", "dropped"]
    opened(QUARTER)


def test_closed_sheet_is_not_closed_again(shelved: TinyPlant) -> None:
    sheet = opened()
    close_count_sheet(sheet_code=sheet.code, clock=NOON)
    assert count_sheet_row(sheet.code).closed_at == NOON.occurred_at
    with pytest.raises(CountSheetError, match="was closed at"):
        close_count_sheet(sheet_code=sheet.code, clock=NOON)


def test_dropped_line_is_not_counted(shelved: TinyPlant) -> None:
    sheet = opened()
    close_count_sheet(sheet_code=sheet.code, clock=NOON)
    with pytest.raises(CountSheetError, match="dropped with its sheet"):
        count(sheet, 20)


@pytest.mark.parametrize(
    ("fields", "error", "message"),
    [
        ({}, InvalidInputError, "either the SKUs or the shelf places"),
        ({"sku_codes": [KG], "shelf_places": ["A-01"]}, InvalidInputError, "either the SKUs or"),
        ({"sku_codes": ["PINK"]}, NotFoundError, "SKU 'PINK'"),
        ({"shelf_places": ["A-01", "Z-99"]}, NotFoundError, "shelf place 'Z-99'"),
        ({"sku_codes": [KG], "tolerance_share": Decimal("0.00001")}, InvalidInputError, "at most 4 decimals"),
    ],
)
def test_sheet_is_refused(shelved: TinyPlant, fields: dict[str, object], error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        open_count_sheet(clock=OPENED, **fields)
    assert CountSheet.objects.count() == 0


@pytest.mark.parametrize(
    ("fields", "error", "message"),
    [
        ({"counted": -1}, InvalidInputError, "-1 spools"),
        ({"counted": 100_001}, InvalidInputError, "100001 spools"),
        ({"note": "x" * 101}, InvalidInputError, "note has 101"),
        ({"sku_code": QUARTER}, NotFoundError, "is not on count sheet"),
        ({"sheet_code": "C9"}, NotFoundError, "Count sheet 'C9'"),
        ({"clock": clock("2027-03-01 09:59")}, InvalidInputError, "when the sheet was opened"),
    ],
)
def test_count_is_refused(shelved: TinyPlant, fields: dict[str, object], error: type[Exception], message: str) -> None:
    body = {"sheet_code": opened().code, "sku_code": KG, "counted": 20, "clock": NOON}
    with pytest.raises(error, match=message):
        record_count(**{**body, **fields})
    assert CountEntry.objects.count() == 0


def test_second_count_from_before_the_first_is_refused(shelved: TinyPlant) -> None:
    sheet = opened()
    count(sheet, 18)
    with pytest.raises(InvalidInputError, match="counted before"):
        count(sheet, 18, at=clock("2027-03-01 11:00"))


def test_sheets_cost_the_same_queries_for_one_line_and_twenty(
    plant: TinyPlant, many_skus: list[Sku], queries_of: Callable[..., int]
) -> None:
    codes = [sku.item.code for sku in many_skus]
    small, large = opened(codes[0]), opened(*codes[1:])
    assert queries_of(count_sheet_row, small.code) == queries_of(count_sheet_row, large.code)
    assert len(count_sheet_rows(limit=10)) == 2


@pytest.mark.django_db(transaction=True)
def test_two_counts_at_once_of_a_line_settle_it_once(shelved: TinyPlant) -> None:
    sheet = opened()
    answers = at_once(*[partial(count, sheet, 20)] * 2)
    assert sorted(type(answer).__name__ for answer in answers) == ["CountSheetError", "Counted"]
    assert CountEntry.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_sheets_at_once_never_hold_the_same_sku(shelved: TinyPlant) -> None:
    answers = at_once(*[partial(opened, KG)] * 2)
    assert sorted(type(answer).__name__ for answer in answers) == ["CountSheet", "CountSheetError"]
