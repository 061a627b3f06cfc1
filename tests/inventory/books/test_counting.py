"""Blind cycle counts: what settles a line, what is posted, what is shown. Sums by hand; common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import partial

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import CountEntry, CountLine, CountSheet, Movement, Sku
from inventory.rules.clock import Clock
from inventory.selectors.counting import count_accuracy, count_sheet_row, count_sheet_rows, next_counts
from inventory.services.counting import Counted, CountSheetError, close_count_sheet, open_count_sheet, record_count
from inventory.services.scrap import scrap_spools
from tests.constraints import copy_of, refused
from tests.inventory.at_once import at_once
from tests.inventory.books.floor import KG, QUARTER
from tests.inventory.books.reading import shelf
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf

pytestmark = [pytest.mark.django_db, pytest.mark.database]
NATURAL = "PETG-NAT-1000"
OPENED, NOON = clock("2027-03-01 10:00"), clock("2027-03-01 12:00")


@pytest.fixture
def shelved(plant: TinyPlant) -> TinyPlant:
    """Twenty of each size of black at A-01, ten of natural at B-02."""
    places = ((plant.black_1kg, 20, "A-01"), (plant.black_250g, 20, "A-01"), (plant.natural_1kg, 10, "B-02"))
    for sku, spools, where in places:
        put_on_shelf(sku, spools)
        Sku.objects.filter(pk=sku.pk).update(shelf_place=where)
    return plant


def opened(*codes: str, tolerance: str = "0") -> CountSheet:
    return open_count_sheet(sku_codes=codes or (KG,), tolerance_share=Decimal(tolerance), clock=OPENED)


def count(sheet: CountSheet, counted: int, *, sku: str = KG, at: Clock = NOON, **more: object) -> Counted:
    return record_count(sheet_code=sheet.code, sku_code=sku, counted=counted, clock=at, **more)


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
    scrap_spools(sku_code=KG, quantity=5, clock=clock("2027-03-01 12:30"), reason="torn")
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


def test_accuracy_is_told_by_place_and_by_class(shelved: TinyPlant, order: Callable[..., int]) -> None:
    # Black 1 kg is all the demand there is, so it is class A and the rest C.
    order("A", {shelved.black_1kg: 1})
    sheet = opened(KG, QUARTER, NATURAL)
    count(sheet, 20)
    count(sheet, 20, sku=QUARTER)
    for hour in ("12", "13"):
        count(sheet, 8, sku=NATURAL, at=clock(f"2027-03-01 {hour}:00"))
    accuracy = count_accuracy(first=local("2027-03-01 00:00"), last=local("2027-03-02 00:00"))
    assert [(row.group, row.counted_lines, row.exact_lines) for row in accuracy.by_place] == [
        ("A-01", 2, 2),
        ("B-02", 1, 0),
    ]
    assert [(row.group, row.counted_lines, row.net_spools) for row in accuracy.by_class] == [("A", 1, 0), ("C", 2, -2)]


def test_accuracy_counts_its_days_only(shelved: TinyPlant) -> None:
    count(opened(), 20)
    assert count_accuracy(first=local("2027-03-01 12:00"), last=local("2027-03-01 12:01")).by_class != ()
    assert count_accuracy(first=local("2027-03-01 12:01"), last=local("2027-03-02 00:00")).by_class == ()
    assert count_accuracy(first=local("2027-03-01 00:00"), last=local("2027-03-01 12:00")).by_class == ()


def _next(at: str = "2027-03-01 15:00") -> list[tuple[str, int]]:
    return [(row.sku_code, row.movements) for row in next_counts(as_of=local(at), limit=10)]


def test_sku_with_more_order_lines_is_counted_first(shelved: TinyPlant, order: Callable[..., int]) -> None:
    order("A", {shelved.natural_1kg: 1})
    order("B", {shelved.natural_1kg: 1, shelved.black_250g: 1})
    assert _next() == [(NATURAL, 1), (QUARTER, 1), (KG, 1)]


def test_risk_is_the_chance_of_a_wrong_record_times_its_order_lines(
    shelved: TinyPlant, order: Callable[..., int]
) -> None:
    order("A", {shelved.natural_1kg: 1})
    first = next_counts(as_of=local("2027-03-01 15:00"), limit=1)[0]
    # Nothing was counted: 1 in 100; one movement; one line in 91 days.
    assert (first.chance_wrong, first.order_lines_per_day) == pytest.approx((0.01, 1 / 91))
    assert first.risk == pytest.approx(0.01 / 91)
    assert first.reason == (
        "1 movements and never counted: wrong by a chance of 1%, and 0.01 order lines a day rely on it."
    )


def test_more_movements_make_a_count_more_urgent(shelved: TinyPlant) -> None:
    for hour in ("11:00", "11:30"):
        scrap_spools(sku_code=QUARTER, quantity=1, clock=clock(f"2027-03-01 {hour}"), reason="torn")
    assert _next() == [(QUARTER, 3), (NATURAL, 1), (KG, 1)]


def test_counted_sku_comes_last_until_it_moves(shelved: TinyPlant) -> None:
    count(opened(NATURAL), 10, sku=NATURAL)
    assert _next()[-1] == (NATURAL, 0)
    scrap_spools(sku_code=NATURAL, quantity=1, clock=clock("2027-03-01 13:00"), reason="torn")
    assert dict(_next())[NATURAL] == 1


def test_wrong_count_makes_every_record_less_trusted(shelved: TinyPlant) -> None:
    sheet = opened(NATURAL)
    count(sheet, 8, sku=NATURAL)
    count(sheet, 8, sku=NATURAL, at=clock("2027-03-01 13:00"))
    chances = {row.sku_code: row.chance_wrong for row in next_counts(as_of=local("2027-03-01 15:00"), limit=10)}
    # One wrong count after one movement: 2 in 101.
    assert chances[KG] == pytest.approx(2 / 101)


def test_sku_on_an_open_sheet_is_not_named_again(shelved: TinyPlant) -> None:
    opened(KG)
    assert [code for code, _ in _next()] == [NATURAL, QUARTER]


def test_what_to_count_is_read_as_it_was_known(shelved: TinyPlant, order: Callable[..., int]) -> None:
    count(opened(NATURAL), 10, sku=NATURAL)
    order("A", {shelved.black_250g: 1}, at="2027-03-01 14:00")
    assert dict(_next("2027-03-01 11:00"))[NATURAL] == 1
    assert next_counts(as_of=local("2027-03-01 11:00"), limit=1)[0].order_lines_per_day == 0


def test_sheets_cost_the_same_queries_for_one_line_and_twenty(
    plant: TinyPlant, many_skus: list[Sku], queries_of: Callable[..., int]
) -> None:
    codes = [sku.item.code for sku in many_skus]
    small, large = opened(codes[0]), opened(*codes[1:])
    assert queries_of(count_sheet_row, small.code) == queries_of(count_sheet_row, large.code)
    assert len(count_sheet_rows(limit=10)) == 2


def test_what_to_count_costs_the_same_queries_for_one_sku_and_twenty(
    plant: TinyPlant, many_skus: list[Sku], queries_of: Callable[..., int]
) -> None:
    put_on_shelf(plant.black_1kg, 5)
    ask = partial(next_counts, as_of=local("2027-03-01 15:00"), limit=100)
    one = queries_of(ask)
    for sku in many_skus:
        put_on_shelf(sku, 5)
    assert queries_of(ask) == one


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


@pytest.mark.clean_error_of("countsheet_tolerance_share_range")
@pytest.mark.parametrize("share", ["-0.01", "1", "NaN"])
def test_tolerance_that_is_no_share_is_refused_by_the_service(shelved: TinyPlant, share: str) -> None:
    with pytest.raises(InvalidInputError, match="0 to below 1"):
        opened(tolerance=share)


@pytest.mark.refused_by_database("countsheet_tolerance_share_range")
@pytest.mark.parametrize("share", ["-0.01", "1"])
def test_tolerance_that_is_no_share_is_refused_by_the_database(shelved: TinyPlant, share: str) -> None:
    opened()
    with refused("countsheet_tolerance_share_range"):
        CountSheet.objects.update(tolerance_share=share)


@pytest.mark.clean_error_of("countsheet_closed_after_opening")
def test_sheet_that_closes_before_it_was_opened_is_refused_by_the_service(shelved: TinyPlant) -> None:
    with pytest.raises(InvalidInputError, match="it cannot close at"):
        close_count_sheet(sheet_code=opened().code, clock=clock("2027-03-01 09:59"))


@pytest.mark.refused_by_database("countsheet_closed_after_opening")
def test_sheet_that_closes_before_it_was_opened_is_refused_by_the_database(shelved: TinyPlant) -> None:
    opened()
    with refused("countsheet_closed_after_opening"):
        CountSheet.objects.update(closed_at=local("2027-03-01 09:59"))


@pytest.mark.clean_error_of("countline_one_per_sheet_and_sku")
def test_sku_named_twice_is_on_the_sheet_once(shelved: TinyPlant) -> None:
    assert len(count_sheet_row(opened(KG, KG).code).lines) == 1


@pytest.mark.refused_by_database("countline_one_per_sheet_and_sku")
def test_second_line_of_a_sku_is_refused_by_the_database(shelved: TinyPlant) -> None:
    opened()
    CountLine.objects.update(state="dropped")
    with refused("countline_one_per_sheet_and_sku"):
        copy_of(CountLine.objects.get())


@pytest.mark.clean_error_of("countline_one_open_per_sku")
def test_sku_that_waits_on_another_sheet_is_refused_by_the_service(shelved: TinyPlant) -> None:
    first = opened()
    with pytest.raises(CountSheetError, match=f"SKU {KG} waits on sheet {first.code}"):
        opened(KG, QUARTER)


@pytest.mark.refused_by_database("countline_one_open_per_sku")
def test_sku_that_waits_on_another_sheet_is_refused_by_the_database(shelved: TinyPlant) -> None:
    opened(KG)
    other = opened(QUARTER)
    with refused("countline_one_open_per_sku"):
        copy_of(CountLine.objects.get(sku=shelved.black_1kg), sheet=other)


@pytest.mark.clean_error_of("countline_settled_has_its_count")
def test_settled_line_keeps_its_count_and_the_books(shelved: TinyPlant) -> None:
    count(opened(), 20)
    line = CountLine.objects.get()
    assert (line.counted_spools, line.book_spools, line.settled_at) == (20, 20, local("2027-03-01 12:00"))


@pytest.mark.refused_by_database("countline_settled_has_its_count")
@pytest.mark.parametrize(
    "fields", [{"counted_spools": None}, {"book_spools": None}, {"settled_at": None}, {"state": "open"}]
)
def test_settled_line_without_its_count_is_refused_by_the_database(
    shelved: TinyPlant, fields: dict[str, object]
) -> None:
    count(opened(), 20)
    with refused("countline_settled_has_its_count"):
        CountLine.objects.update(**fields)


@pytest.mark.clean_error_of("countline_movement_only_for_a_difference")
def test_line_without_a_difference_has_no_movement(shelved: TinyPlant) -> None:
    count(opened(), 20)
    assert CountLine.objects.get().movement is None


@pytest.mark.refused_by_database("countline_movement_only_for_a_difference")
def test_movement_of_a_line_without_a_difference_is_refused_by_the_database(shelved: TinyPlant) -> None:
    count(opened(), 20)
    with refused("countline_movement_only_for_a_difference"):
        CountLine.objects.update(movement=Movement.objects.first())


@pytest.mark.clean_error_of("countentry_one_per_number")
@pytest.mark.clean_error_of("countentry_number_from_one")
def test_counts_of_a_line_are_numbered_from_one(shelved: TinyPlant) -> None:
    sheet = opened()
    count(sheet, 18)
    count(sheet, 18, at=clock("2027-03-01 13:00"))
    assert list(CountEntry.objects.values_list("number", flat=True)) == [1, 2]


@pytest.mark.refused_by_database("countentry_one_per_number")
def test_second_count_of_a_number_is_refused_by_the_database(shelved: TinyPlant) -> None:
    count(opened(), 18)
    with refused("countentry_one_per_number"):
        copy_of(CountEntry.objects.get())


@pytest.mark.refused_by_database("countentry_number_from_one")
def test_count_of_number_nought_is_refused_by_the_database(shelved: TinyPlant) -> None:
    count(opened(), 18)
    with refused("countentry_number_from_one"):
        CountEntry.objects.update(number=0)
