"""Rounds of counting: a sheet opened, counted without a look at the books, and closed."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from inventory.models import CountEntry, CountLine, CountSheet, ShelfStock
from inventory.rules.clock import Clock
from inventory.services.counting import open_count_sheet
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
BLACK, NATURAL = "PLA-BLACK-1000", "PETG-NAT-1000"
COUNTS = "/admin/counts/"


@pytest.fixture
def black(floor: Client) -> str:
    """The address of a sheet for black, of which ten lie on the shelf."""
    return str(floor.post(f"{COUNTS}open/", {"sku": [BLACK]})["Location"])


def write(client: Client, sheet: str, **counted: str) -> HttpResponse:
    return client.post(f"{sheet}write/", {f"counted {sku.replace('_', '-')}": n for sku, n in counted.items()})


def line_of(sku: str) -> CountLine:
    return CountLine.objects.get(sku__item__code=sku)


def test_sheet_is_opened_for_what_is_ticked(floor: Client, black: str) -> None:
    assert black == f"{COUNTS}{CountSheet.objects.latest('pk').code}/"
    assert [line.sku_code for line in floor.get(black).context["sheet"].lines] == [BLACK]


def test_sheet_is_opened_for_shelf_places_with_a_tolerance_in_per_cent(floor: Client, shown: ShownPlant) -> None:
    shown.tiny.black_1kg.shelf_place = "A-01"
    shown.tiny.black_1kg.save()
    floor.post(f"{COUNTS}open/", {"places": " A-01 ", "tolerance": "2,5"})
    sheet = CountSheet.objects.latest("pk")
    assert (sheet.tolerance_share, sheet.lines.get().sku.item.code) == (Decimal("0.025"), BLACK)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "Name either the SKUs or the shelf places to count."),
        ({"places": "NOWHERE"}, "No SKU belongs to shelf place"),
        ({"places": "A-01", "tolerance": "much"}, "tolerance: a number such as 1.75"),
        ({"sku": [NATURAL]}, "waits on sheet"),
    ],
)
def test_sheet_that_cannot_be_is_refused_and_what_was_typed_stays(
    floor: Client, typed: dict[str, str], said: str
) -> None:
    answer = floor.post(f"{COUNTS}open/", typed)
    assert (answer.status_code, CountSheet.objects.count()) == (422, 1)
    assert "No sheet was opened: " in answer.text
    assert said in answer.text
    assert f'name="places" value="{typed.get("places", "")}"' in answer.text


def test_count_is_blind_until_it_is_settled(floor: Client, black: str) -> None:
    assert floor.get(black).context["sheet"].lines[0].book_spools is None
    write(floor, black, PLA_BLACK_1000="10")
    [line] = floor.get(black).context["sheet"].lines
    assert (line.state, line.book_spools, line.counted_spools) == ("settled", 10, 10)


def test_difference_is_asked_for_once_more_and_then_the_books_follow(floor: Client, black: str) -> None:
    write(floor, black, PLA_BLACK_1000="8")
    text = floor.get(black).text
    assert "1 count differs from the books: count it once more." in text
    assert "to be counted again" in text
    assert not re.search(r">\s*(10|8)\s*<", text)
    assert ShelfStock.objects.get(sku__item__code=BLACK).on_shelf == 10
    write(floor, black, PLA_BLACK_1000="8")
    assert ShelfStock.objects.get(sku__item__code=BLACK).on_shelf == 8
    assert CountEntry.objects.latest("pk").counted_by.username == "floor-person"


def test_nothing_lies_there_is_a_count_and_an_empty_field_is_none(floor: Client, black: str) -> None:
    assert "No count was written." in floor.get(write(floor, black, PLA_BLACK_1000=" ")["Location"]).text
    assert not CountEntry.objects.exists()
    write(floor, black, PLA_BLACK_1000="0")
    assert CountEntry.objects.get().counted_spools == 0


def test_count_that_is_refused_stays_typed_and_leaves_the_others_written(floor: Client, shown: ShownPlant) -> None:
    sheet = open_count_sheet(sku_codes=[BLACK, "PLA-RUBY-1000"], clock=Clock.at(timezone.now()))
    answer = write(floor, f"{COUNTS}{sheet.code}/", PLA_BLACK_1000="10", PLA_RUBY_1000="1.5")
    assert answer.status_code == 422
    assert re.search(r'name="counted PLA-RUBY-1000"[^>]*value="1.5" aria-invalid="true"', answer.text)
    assert "A whole number of spools, got" in answer.text
    assert [line_of(sku).state for sku in (BLACK, "PLA-RUBY-1000")] == ["settled", "open"]


def test_stale_tab_is_told_that_a_line_is_settled(floor: Client, black: str) -> None:
    write(floor, black, PLA_BLACK_1000="10")
    answer = write(floor, black, PLA_BLACK_1000="7")
    assert answer.status_code == 422
    assert re.search(rf"SKU {BLACK} on sheet C\d+ is settled\.", answer.text)
    assert line_of(BLACK).counted_spools == 10


def test_closed_sheet_takes_no_more_counts_and_frees_its_skus(floor: Client, black: str) -> None:
    answer = floor.post(f"{black}close/", follow=True)
    assert "Closed. 1 line was not settled." in answer.text
    assert "Write the counts" not in floor.get(black).text
    assert write(floor, black, PLA_BLACK_1000="10").status_code == 422
    assert floor.post(f"{COUNTS}open/", {"sku": [BLACK]}).status_code == 302


def test_how_right_the_books_were_is_said_by_class(floor: Client, black: str) -> None:
    for _ in range(2):
        write(floor, black, PLA_BLACK_1000="8")
    [row] = floor.get(COUNTS).context["accuracy"]
    assert (row.counted_lines, row.accuracy_share, row.net_spools) == (1, 0.0, -2)
    assert ">-2<" in floor.get(COUNTS).text


@pytest.mark.parametrize("path", ["open/", "{sheet}/write/", "{sheet}/close/"])
def test_who_plans_may_look_and_counts_nothing(shown: ShownPlant, logged_in: LogIn, path: str) -> None:
    planner = logged_in("planner")
    assert planner.post(shown.fill_in(f"{COUNTS}{path}"), {f"counted {NATURAL}": "1"}).status_code == 403
    assert "your log-in may look" in planner.get(COUNTS).text
    assert f'name="counted {NATURAL}"' not in planner.get(shown.fill_in(f"{COUNTS}{{sheet}}/")).text


def test_unknown_sheet_is_not_found(floor: Client) -> None:
    assert floor.get(f"{COUNTS}C999999/").status_code == 404
    assert floor.post(f"{COUNTS}C999999/write/").status_code == 404
