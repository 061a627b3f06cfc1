"""Importing an order table into the small plant."""

from __future__ import annotations

from datetime import UTC, date, datetime
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from inventory.errors import NotFoundError
from inventory.models import Allocation, Order, OrderLine
from inventory.plant_files.faults import PlantFileError
from inventory.plant_files.import_orders import AddedUp, ImportReport, import_orders
from inventory.plant_files.load import LoadReport
from tests.inventory.catalogue.conftest import MONDAY

pytestmark = pytest.mark.django_db

HEADER = "reference,received_at,sku,quantity"
STONE, SNOW = "PLA-STONE-175-1000", "PLA-SNOW-175-1000"


def imported(path: Path, *rows: str, header: str = HEADER, channel: str | None = "SHOP", **more: bool) -> ImportReport:
    path = path / "table.csv"
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return import_orders(path, channel=channel, as_of=MONDAY, **more)


def test_import_places_open_orders_and_promises_them(loaded: LoadReport, tmp_path: Path) -> None:
    report = imported(tmp_path, f"A1,2027-03-01T06:30:00Z,{STONE},2", f"A1,2027-03-01T06:30:00Z,{SNOW},3")
    assert (report.written.orders, report.written.open_lines, report.written.lines_without_promise) == (1, 2, 1)
    order = Order.objects.get(reference="A1")
    # 07:30 local on a Monday, before the cut-off. Of snow 1 is free (5 on the shelf, 4 promised), so 3 cannot be.
    assert (order.due_day, order.received_at) == (date(2027, 3, 1), datetime(2027, 3, 1, 6, 30, tzinfo=UTC))
    promised = dict(order.lines.values_list("sku__item__code", "promised_day"))
    assert promised == {STONE: date(2027, 3, 1), SNOW: None}
    assert Allocation.objects.get(order_line__order=order, order_line__sku__item__code=SNOW).quantity == 1


def test_import_adds_up_a_sku_that_is_twice_in_an_order_and_reports_it(loaded: LoadReport, tmp_path: Path) -> None:
    report = imported(
        tmp_path,
        f"A1,2027-03-01T06:30:00Z,{STONE},2",
        f"A1,2027-03-01T06:30:00Z,{SNOW},1",
        f"A1,2027-03-01T06:30:00Z,{STONE},5",
    )
    assert report.added_up == (AddedUp("SHOP", "A1", STONE, (2, 4), 7),)
    lines = OrderLine.objects.filter(order__reference="A1").values_list("line_no", "sku__item__code", "quantity")
    assert list(lines) == [(1, STONE, 7), (2, SNOW, 1)]


def test_import_of_a_history_without_outcome_counts_past_lines_as_shipped(loaded: LoadReport, tmp_path: Path) -> None:
    report = imported(
        tmp_path,
        f"A1,2027-02-10T08:00:00Z,{STONE},2",
        f"A2,2027-03-01T06:30:00Z,{STONE},1",
        unknown_is_shipped=True,
    )
    assert (report.written.lines, report.written.open_lines) == (2, 1)
    # A1 was due on its own day, a Wednesday; A2 is due today, and the carrier has not left yet.
    assert OrderLine.objects.get(order__reference="A1").shipped_complete_day == date(2027, 2, 10)
    assert Order.objects.get(reference="A2").state == "open"


class StoppedError(Exception):
    """Somebody stops the import."""


def test_import_that_is_stopped_midway_leaves_nothing(loaded: LoadReport, tmp_path: Path) -> None:
    def stop_at_the_end(what: str, done: int, total: int) -> None:
        if what == "orders" and done == total:
            raise StoppedError

    path = tmp_path / "table.csv"
    path.write_text(f"{HEADER}\nA1,2027-03-01T06:30:00Z,{STONE},2\n", encoding="utf-8")
    with pytest.raises(StoppedError):
        import_orders(path, channel="SHOP", as_of=MONDAY, progress=stop_at_the_end)
    assert not Order.objects.filter(reference="A1").exists()


def test_import_again_changes_nothing(loaded: LoadReport, tmp_path: Path) -> None:
    row = f"A1,2027-03-01T06:30:00Z,{STONE},2"
    imported(tmp_path, row)
    report = imported(tmp_path, row)
    assert (report.written.orders, report.already_there) == (0, 1)
    assert Order.objects.filter(reference="A1").count() == 1


def test_import_refuses_another_order_under_a_known_reference(loaded: LoadReport, tmp_path: Path) -> None:
    imported(tmp_path, f"A1,2027-03-01T06:30:00Z,{STONE},2")
    with pytest.raises(
        PlantFileError, match=r"table\.csv, line 3, column reference: channel SHOP has order A1 already"
    ):
        imported(tmp_path, f"A2,2027-03-01T06:30:00Z,{STONE},2", f"A1,2027-03-01T06:30:00Z,{STONE},3")
    assert not Order.objects.filter(reference="A2").exists()


@pytest.mark.parametrize(
    ("row", "place"),
    [
        ("A1,2027-03-01T06:30:00Z,NO-SUCH,2", "line 2, column sku: 'NO-SUCH' is not in skus.csv."),
        (f"A1,2027-03-01 06:30,{STONE},2", "line 2, column received_at: '2027-03-01 06:30' has no offset from UTC"),
        (f"A1,2027-03-01T07:30:00Z,{STONE},2", "line 2, column received_at: is after 2027-03-01T07:00:00Z"),
        (f"A1,2027-03-01T06:30:00Z,{STONE},two", "line 2, column quantity: 'two' is not a whole number"),
        (f"A1,2027-03-01T06:30:00Z,{STONE},1000000", "line 2, column quantity: The quantity of"),
        (f",2027-03-01T06:30:00Z,{STONE},1", "line 2, column reference: must be filled."),
    ],
)
def test_import_names_line_and_column_of_a_fault(loaded: LoadReport, tmp_path: Path, row: str, place: str) -> None:
    with pytest.raises(PlantFileError) as caught:
        imported(tmp_path, row)
    assert place in str(caught.value)
    assert not Order.objects.filter(reference="A1").exists()


def test_import_refuses_rows_of_an_order_that_disagree(loaded: LoadReport, tmp_path: Path) -> None:
    with pytest.raises(PlantFileError, match=r"line 3, column received_at: line 2 of the same order has"):
        imported(tmp_path, f"A1,2027-02-10T08:00:00Z,{STONE},2", f"A1,2027-02-11T08:00:00Z,{SNOW},2")


def test_import_refuses_a_row_without_channel_when_none_is_named(loaded: LoadReport, tmp_path: Path) -> None:
    with pytest.raises(PlantFileError, match="line 2, column channel: must be filled"):
        imported(tmp_path, f"A1,2027-03-01T06:30:00Z,{STONE},2", channel=None)


def test_import_refuses_a_channel_that_the_plant_does_not_have(loaded: LoadReport, tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="no channel 'FAIR'; the channels are"):
        imported(tmp_path, f"A1,2027-03-01T06:30:00Z,{STONE},2", channel="FAIR")


def test_import_takes_the_channel_of_the_row_before_that_of_the_command(loaded: LoadReport, tmp_path: Path) -> None:
    imported(tmp_path, f"WORKS,A1,2027-03-01T06:30:00Z,{STONE},1", header=f"channel,{HEADER}")
    assert Order.objects.get(reference="A1").channel.code == "WORKS"


def test_import_command_reports_what_it_did(loaded: LoadReport, tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    rows = f"A1,2027-03-01T06:30:00Z,{STONE},2\nA1,2027-03-01T06:30:00Z,{STONE},1\n"
    path.write_text(f"{HEADER}\n{rows}", encoding="utf-8")
    out = StringIO()
    call_command("import_orders", path, channel="SHOP", as_of=MONDAY, stdout=out)
    assert "Imported 1 orders with 1 lines; 1 lines are open, 0 of them without a ship day." in out.getvalue()
    assert f"Added up: order SHOP/A1, {STONE} in lines 2, 3: 3 spools." in out.getvalue()


def test_import_command_says_that_a_file_is_missing(loaded: LoadReport, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="the file is missing"):
        call_command("import_orders", tmp_path / "none.csv", channel="SHOP", as_of=MONDAY)
