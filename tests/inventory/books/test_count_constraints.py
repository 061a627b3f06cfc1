"""Each constraint of the count sheets twice: kept by the service, refused by the database past it."""

from __future__ import annotations

import pytest

from inventory.errors import InvalidInputError
from inventory.models import CountEntry, CountLine, CountSheet, Movement
from inventory.selectors.count_sheets import count_sheet_row
from inventory.services.counting import CountSheetError, close_count_sheet
from tests.constraints import copy_of, refused
from tests.inventory.books.count_sheets import count, opened
from tests.inventory.books.floor import KG, QUARTER
from tests.inventory.builders import TinyPlant, clock, local

pytestmark = pytest.mark.django_db


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
