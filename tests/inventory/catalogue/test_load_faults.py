"""Loading a plant: how the faults of its files are named."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from inventory.models import Item
from inventory.plant_files.faults import PlantFileError
from inventory.plant_files.load import load_plant
from tests.inventory.catalogue.conftest import MONDAY
from tests.inventory.catalogue.loading import assert_nothing_loaded
from tests.inventory.plant_dir import replace_in, write_small_plant

pytestmark = pytest.mark.django_db


def faults_of(plant_dir: Path) -> list[tuple[str, int, str, str]]:
    with pytest.raises(PlantFileError) as caught:
        load_plant(plant_dir, as_of=MONDAY)
    return [(fault.file, fault.line, fault.column, fault.reason) for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("file", "change", "line", "column", "reason"),
    [
        ("skus.csv", ("9520000000028", "9520000000029"), 2, "gtin", "its check digit is 8"),
        ("skus.csv", ("KG1,yes,9.5", "KG7,yes,9.5"), 2, "spool_size", "'KG7' is not in spool_sizes.csv."),
        ("skus.csv", ("no,4,2026", "maybe,4,2026"), 3, "is_stocked", "'maybe' is neither yes nor no."),
        ("skus.csv", ("yes,9,2026-01-05,", "yes,9,2026-01-05,2025-12-31"), 4, "active_to", "is before active_from."),
        ("carts.csv", ("CART-2", "Cart 2"), 3, "code", "capital letters, digits"),
        ("carts.csv", ("CART-2", "CART-1"), 3, "code", "line 2"),
        ("materials.csv", ("PLA,PLA,1.24", "PLA,PLA,0"), 2, "density_g_cm3", "must be above 0."),
        ("materials.csv", ("1.24", "1,24"), 2, "", "has 12 cells, but the header names 11 columns."),
        ("materials.csv", ("1.24", "heavy"), 2, "density_g_cm3", "'heavy' is not a number"),
        ("materials.csv", ("RESIN-PLA,60", "BOX-S,60"), 2, "resin_item", "is of kind box; this column wants resin."),
        ("colours.csv", ("#F4F6F8", "#f4f6f8"), 2, "hex", "#RRGGBB"),
        ("colours.csv", ("CON-STONE,0.02", ",0.02"), 3, "let_down_share", "or neither."),
        ("items.csv", ("RESIN-PLA,PLA resin,resin,kg", "RESIN-PLA,PLA resin,resin,piece"), 7, "unit", "counted in kg"),
        ("items.csv", ("BOX-S,Small box,box", "BOX-S,Small box,crate"), 2, "kind", "'crate' is none of"),
        ("work_days.csv", ("0,13:40,16:00", "0,13:40,12:00"), 2, "pick_up", "not before cut_off"),
        ("work_days.csv", ("0,13:40", "0,25:40"), 2, "cut_off", "not a time of day"),
        ("crews.csv", ("0,06:00", "7,06:00"), 2, "weekday", "not a valid choice"),
        ("closures.csv", ("2027-05-14", "2027-02-30"), 2, "day", "not a day of the calendar"),
        ("parameters.csv", ("Europe/Berlin", "Europe/Lowmeadow"), 3, "value", "no time zone"),
        ("parameters.csv", ("target_share,0.97", "target_share,1"), 6, "value", "target_share: must lie above 0"),
        ("parameters.csv", ("review_days", "rewiew_days"), 8, "key", "'rewiew_days' is none of"),
        ("parameters.csv", ("holiday_country,", "holiday_country,QQ"), 4, "value", "no public holidays are known"),
        ("parameters.csv", ("name,Lowmeadow Filament Works\n", ""), 0, "key", "the key name is missing"),
        ("opening_stock.csv", ("C-2001,,60", "C-2001,,-60"), 4, "quantity", "must be a number above 0"),
        ("opening_stock.csv", ("S-5001,,12", "S-5001,,12.5"), 9, "quantity", "whole number"),
        ("opening_stock.csv", ("CON-SNOW,resin_store", "CON-SNOW,shelf"), 4, "place", "lies in resin_store"),
        ("opening_stock.csv", ("hold,S-5005", "attic,S-5005"), 13, "place", "'attic' is neither"),
        ("opening_stock.csv", ("BOX-S,", "BOX-XL,"), 8, "item", "neither in items.csv nor in skus.csv"),
        ("opening_stock.csv", ("hold,S-5005", "hold,S-5004"), 13, "lot", "has another item"),
        ("orders.csv", ("SHOP,1004", "FAIR,1004"), 7, "channel", "'FAIR' is not in channels.csv."),
        ("orders.csv", ("2027-02-26T14:05:00Z", "2027-02-26T14:05:00"), 7, "received_at", "has no offset"),
        ("orders.csv", ("2027-02-26T14:05:00Z", "2027-03-02T14:05:00Z"), 7, "received_at", "is after"),
        ("orders.csv", ("PLA-SNOW-175-1000,4", "PLA-SNOW-175-1000,0"), 7, "quantity", "whole number from 1"),
        ("orders.csv", ("STONE-175-1000,15,5", "STONE-175-1000,15,16"), 8, "shipped", "from 0 to the quantity 15"),
        ("orders.csv", ("PLA-STONE-175-1000,15,5", "PLA-STONE-175-1000,15,15"), 8, "shipped_day", "must be filled"),
        ("orders.csv", ("3,,2027-02-23", "3,,2027-02-21"), 4, "shipped_day", "before the order arrived"),
        ("orders.csv", ("customer,2027-02-25T11:30", ",2027-02-25T11:30"), 6, "cancelled_at", "nobody is named"),
        (
            "orders.csv",
            ("2,PLA-SNOW-175-1000,1,,2027-02-22", "2,PLA-STONE-175-1000,1,,2027-02-22"),
            3,
            "sku",
            "is on line 1 already",
        ),
    ],
)
def test_load_plant_names_file_line_column_and_reason(
    plant_dir: Path, *, file: str, change: tuple[str, str], line: int, column: str, reason: str
) -> None:
    replace_in(plant_dir / file, *change)
    [(found_file, found_line, found_column, found_reason)] = faults_of(plant_dir)
    assert (found_file, found_line, found_column) == (file, line, column)
    assert reason in found_reason
    assert_nothing_loaded()


def closures(first: date, days: int) -> str:
    return "day,reason\n" + "".join(f"{first + timedelta(days=n)},closed\n" for n in range(days))


@pytest.mark.parametrize(
    ("column", "old", "new"),
    [("pack_from", ",06:00,09:00,", ",,,"), ("oven_load_at", ",18:00,", ",,")],
)
def test_load_plant_names_what_no_weekday_has(plant_dir: Path, column: str, old: str, new: str) -> None:
    path = plant_dir / "work_days.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    [(file, line, found, _)] = faults_of(plant_dir)
    assert (file, line, found) == ("work_days.csv", 0, column)
    assert_nothing_loaded()


def test_load_plant_names_the_closures_that_leave_no_day(plant_dir: Path) -> None:
    (plant_dir / "closures.csv").write_text(closures(MONDAY.date(), 500), encoding="utf-8")
    [(file, line, column, reason)] = faults_of(plant_dir)
    assert (file, line, column) == ("closures.csv", 0, "day")
    assert "closed for too long after 2027-03-01T07:00:00Z" in reason
    assert_nothing_loaded()


@pytest.mark.parametrize(
    ("first", "received_at", "line", "column"),
    [
        # 1002 arrived in a time of which no day is open for longer than the calendar looks ahead.
        (date(2024, 1, 1), "2024-01-15T12:40:00Z", 4, "received_at"),
        # 1005 wants 12 March 2027: nothing ships then or later.
        (date(2027, 3, 9), "2027-02-22T12:40:00Z", 8, "wanted_day"),
    ],
)
def test_load_plant_names_the_order_for_which_the_calendar_has_no_day(
    plant_dir: Path, first: date, received_at: str, line: int, column: str
) -> None:
    replace_in(plant_dir / "orders.csv", "2027-02-22T12:40:00Z", received_at)
    (plant_dir / "closures.csv").write_text(closures(first, 500), encoding="utf-8")
    [(file, found_line, found_column, reason)] = faults_of(plant_dir)
    assert (file, found_line, found_column) == ("orders.csv", line, column)
    assert "leads to no due day: No ship day" in reason
    assert_nothing_loaded()


def test_load_plant_names_all_faults_of_a_file_in_the_order_of_its_lines(plant_dir: Path) -> None:
    replace_in(plant_dir / "skus.csv", "9520000000011", "9520000000012")
    replace_in(plant_dir / "skus.csv", "2026-01-05,,A-02", "5.1.2026,,A-02")
    assert [(line, column) for _, line, column, _ in faults_of(plant_dir)] == [(2, "active_from"), (4, "gtin")]


def test_load_plant_stops_at_fifty_faults(plant_dir: Path) -> None:
    rows = "".join(f"2027-13-{day:02d},x\n" for day in range(1, 71))
    (plant_dir / "closures.csv").write_text("day,reason\n" + rows, encoding="utf-8")
    assert len(faults_of(plant_dir)) == 50


def test_load_plant_names_a_required_file_that_is_missing(plant_dir: Path) -> None:
    (plant_dir / "skus.csv").unlink()
    [(file, line, _, reason)] = faults_of(plant_dir)
    assert (file, line) == ("skus.csv", 0)
    assert "the file is missing" in reason


def test_load_plant_names_a_file_that_is_none_of_a_plant(plant_dir: Path) -> None:
    (plant_dir / "orders.csv").rename(plant_dir / "order.csv")
    [(file, _, _, reason)] = faults_of(plant_dir)
    assert file == "order.csv"
    assert "none of the files of a plant" in reason


@pytest.mark.parametrize(
    ("old", "new", "column", "reason"),
    [
        ("code,name", "name", "code", "the column is missing"),
        ("code,name", "code,name,weight", "weight", "there is no such column"),
        ("code,name", "code,name,name", "name", "the column is there twice"),
    ],
)
def test_load_plant_names_a_wrong_header(plant_dir: Path, old: str, new: str, column: str, reason: str) -> None:
    replace_in(plant_dir / "dryers.csv", old, new)
    [(file, line, found_column, found_reason)] = faults_of(plant_dir)
    assert (file, line, found_column) == ("dryers.csv", 1, column)
    assert reason in found_reason


def test_load_plant_names_the_line_that_is_not_utf_8(plant_dir: Path) -> None:
    (plant_dir / "dryers.csv").write_bytes("code,name\nD1,Dryer\nD2,Tröckner\n".encode("latin-1"))
    [(file, line, _, reason)] = faults_of(plant_dir)
    assert (file, line) == ("dryers.csv", 3)
    assert "not UTF-8" in reason


def test_load_plant_counts_lines_past_a_cell_with_line_ends(plant_dir: Path) -> None:
    (plant_dir / "dryers.csv").write_text('code,name\nD1,"Dryer\n1"\nd2,Dryer 2\n', encoding="utf-8")
    [(_, line, column, _)] = faults_of(plant_dir)
    assert (line, column) == (4, "code")


def test_load_plant_command_says_what_is_wrong(tmp_path: Path) -> None:
    plant_dir = write_small_plant(tmp_path / "plant")
    replace_in(plant_dir / "ovens.csv", "80,50", "none,50")
    with pytest.raises(CommandError, match=r"ovens\.csv, line 2, column places: 'none' is not a whole number"):
        call_command("load_plant", plant_dir, as_of=MONDAY)
    assert Item.objects.count() == 0
