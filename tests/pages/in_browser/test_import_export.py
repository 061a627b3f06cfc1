"""A file of SKUs comes in through the admin, and goes out: what the owner sees at each step."""

from __future__ import annotations

import csv
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from openpyxl import load_workbook
from playwright.sync_api import Page, expect

from inventory.models import Item, Sku
from tests.pages.in_browser.conftest import Visit
from tests.pages.shown_plant import ShownPlant

HEADER = "code,name,gtin,filament,spool_size,is_stocked,value,active_from,active_to,shelf_place"
GOOD = "PLA-SAND-250,PLA Sand 250 g,,PLA-SAND-1.75,S250,yes,4.50,2027-03-01,,B2"
BAD = "PLA-RUBY-250,PLA Ruby 250 g,,PLA-RUBY-1.75,S250,yes,dear,2027-03-01,,B3"


def upload(page: Page, tmp_path: Path, *rows: str) -> None:
    file = tmp_path / "skus.csv"
    file.write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    page.get_by_label("File to import").set_input_files(file)
    page.get_by_label("Format").select_option(label="csv")
    page.get_by_role("button", name="Submit").click()


def test_bad_row_is_named_with_column_and_reason_and_nothing_is_written(visit: Visit, tmp_path: Path) -> None:
    page = visit("/admin/inventory/sku/import/", role="owner")
    upload(page, tmp_path, GOOD, BAD)
    fault = page.get_by_role("row", name="PLA-RUBY-250")
    expect(fault.get_by_role("cell").first).to_have_text("2")
    expect(fault).to_contain_text("value")
    expect(fault).to_contain_text("dear")
    expect(page.get_by_role("button", name="Confirm import")).to_have_count(0)
    assert not Sku.objects.filter(item__code__in=["PLA-SAND-250", "PLA-RUBY-250"]).exists()


def test_good_file_is_previewed_and_written_only_when_confirmed(visit: Visit, tmp_path: Path) -> None:
    page = visit("/admin/inventory/sku/import/", role="owner")
    upload(page, tmp_path, GOOD)
    expect(page.get_by_role("row", name="New PLA-SAND-250")).to_be_visible()
    assert not Sku.objects.filter(item__code="PLA-SAND-250").exists()
    page.get_by_role("button", name="Confirm import").click()
    expect(page.get_by_text("Import finished")).to_be_visible()
    assert Sku.objects.get(item__code="PLA-SAND-250").shelf_place == "B2"


@pytest.fixture
def formula(shown: ShownPlant) -> str:
    """A name that a spreadsheet would run."""
    name = '=HYPERLINK("http://example.org","Ruby")'
    Item.objects.filter(code="PLA-RUBY-1000").update(name=name)
    return name


def exported(page: Page, file_format: str) -> bytes:
    page.get_by_label("Format").select_option(label=file_format)
    with page.expect_download() as download:
        page.get_by_role("button", name="Submit").click()
    return download.value.path().read_bytes()


def test_exported_csv_holds_no_formula(visit: Visit, formula: str) -> None:
    text = exported(visit("/admin/inventory/sku/export/", role="owner"), "csv").decode()
    names = {row["code"]: row["name"] for row in csv.DictReader(StringIO(text))}
    # CWE-1236: a quote before the sign makes it text.
    assert names["PLA-RUBY-1000"] == f"'{formula}"


def test_exported_workbook_holds_numbers_and_no_formula(visit: Visit, formula: str) -> None:
    workbook = load_workbook(BytesIO(exported(visit("/admin/inventory/sku/export/", role="owner"), "xlsx")))
    rows = {row[0].value: row for row in workbook.active.iter_rows()}
    assert (rows["PLA-RUBY-1000"][1].data_type, rows["PLA-RUBY-1000"][1].value) == ("s", f"'{formula}")
    assert rows["PLA-RUBY-1000"][6].data_type == "n"


def test_exported_file_comes_in_again_unchanged(visit: Visit, tmp_path: Path) -> None:
    text = exported(visit("/admin/inventory/sku/export/", role="owner"), "csv").decode()
    page = visit("/admin/inventory/sku/import/", role="owner")
    upload(page, tmp_path, *text.splitlines()[1:])
    expect(page.get_by_role("row", name="Skipped")).to_have_count(Sku.objects.count())
