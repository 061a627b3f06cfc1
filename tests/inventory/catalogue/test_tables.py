"""Import with preview and export of the catalogue, as CSV and XLSX."""

from __future__ import annotations

import csv
from decimal import Decimal
from io import BytesIO, StringIO

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from inventory.admin.tables import guarded, unguarded
from inventory.models import Colour, Item, Sku
from inventory.plant_files.load import LoadReport
from tests.inventory.plant_dir import SMALL_PLANT

pytestmark = [pytest.mark.django_db]

CSV, XLSX = "0", "1"
SKU_HEADER = SMALL_PLANT["skus.csv"].splitlines()[0].split(",")
NEW_SKU = [
    "PLA-STONE-175-250",
    "PLA Stone 250 g",
    95012346,
    "PLA-STONE-175",
    "G250",
    "yes",
    4.25,
    "2027-03-01",
    None,
    None,
]


def csv_of(header: list[str], *rows: list[object]) -> SimpleUploadedFile:
    text = StringIO()
    csv.writer(text, lineterminator="\n").writerows([header, *rows])
    return SimpleUploadedFile("table.csv", text.getvalue().encode())


def xlsx_of(header: list[str], *rows: list[object]) -> SimpleUploadedFile:
    book = openpyxl.Workbook()
    for row in (header, *rows):
        book.active.append(row)
    content = BytesIO()
    book.save(content)
    return SimpleUploadedFile("table.xlsx", content.getvalue())


def preview(client: Client, model: str, file: SimpleUploadedFile, *, kind: str) -> HttpResponse:
    return client.post(reverse(f"admin:inventory_{model}_import"), {"import_file": file, "format": kind})


def confirm(client: Client, model: str, response: HttpResponse) -> HttpResponse:
    form = response.context["confirm_form"]
    values = {name: form[name].value() or "" for name in form.fields}
    return client.post(reverse(f"admin:inventory_{model}_process_import"), values)


def messages_of(response: HttpResponse) -> str:
    return response.content.decode().replace("&#x27;", "'")


@pytest.mark.parametrize(("build", "kind"), [(csv_of, CSV), (xlsx_of, XLSX)], ids=["csv", "xlsx"])
def test_import_shows_a_preview_and_writes_after_confirmation(
    admin_client: Client, loaded: LoadReport, build: object, kind: str
) -> None:
    shown = preview(admin_client, "sku", build(SKU_HEADER, NEW_SKU), kind=kind)
    assert shown.status_code == 200
    assert "PLA-STONE-175-250" in messages_of(shown)
    # A preview writes nothing.
    assert Sku.objects.count() == 3
    assert not Item.objects.filter(code="PLA-STONE-175-250").exists()
    assert confirm(admin_client, "sku", shown).status_code == 302
    sku = Sku.objects.select_related("item", "spool_size").get(item__code="PLA-STONE-175-250")
    assert (sku.gtin, sku.value, sku.spool_size.code, sku.is_stocked) == ("95012346", Decimal("4.25"), "G250", True)
    assert (sku.item.kind, sku.item.name, sku.active_to) == ("sku", "PLA Stone 250 g", None)


def test_import_changes_the_record_of_a_known_key(admin_client: Client, loaded: LoadReport) -> None:
    row = SMALL_PLANT["skus.csv"].splitlines()[3].replace("A-01", "B-07").split(",")
    shown = preview(admin_client, "sku", csv_of(SKU_HEADER, row), kind=CSV)
    assert "<del>A-01</del> <ins>B-07</ins>" in messages_of(shown)
    confirm(admin_client, "sku", shown)
    assert Sku.objects.get(item__code="PLA-STONE-175-1000").shelf_place == "B-07"
    assert Sku.objects.count() == 3


@pytest.mark.parametrize(
    ("place", "value", "message"),
    [
        (2, "95012345", "GTIN '95012345' ends in 5, but its check digit is 6."),
        (3, "PLA-NONE-175", "'PLA-NONE-175' is not in filaments.csv."),
        (5, "maybe", "'maybe' is neither yes nor no."),
        (6, "dear", "'dear' is not a number; write it with a decimal point, like 1.24."),
        (6, "-1", "must not be negative."),
        (1, "", "must be filled."),
    ],
)
def test_import_names_the_cell_that_is_wrong_and_writes_nothing(
    admin_client: Client, loaded: LoadReport, place: int, value: str, message: str
) -> None:
    row = [*NEW_SKU[:place], value, *NEW_SKU[place + 1 :]]
    shown = preview(admin_client, "sku", csv_of(SKU_HEADER, row), kind=CSV)
    assert message in messages_of(shown)
    assert "confirm_form" not in shown.context
    assert Sku.objects.count() == 3


def test_import_refuses_a_table_without_its_columns(admin_client: Client, loaded: LoadReport) -> None:
    shown = preview(admin_client, "sku", csv_of(SKU_HEADER[1:], NEW_SKU[1:]), kind=CSV)
    assert "The table has no column code; it needs code, name" in messages_of(shown)


def test_import_of_colours_computes_lightness(admin_client: Client, loaded: LoadReport) -> None:
    file = csv_of(SMALL_PLANT["colours.csv"].splitlines()[0].split(","), ["RED", "Red", "#FF0000", "", "", ""])
    confirm(admin_client, "colour", preview(admin_client, "colour", file, kind=CSV))
    # Red of sRGB has L* 53.24 (well-known triple, from memory).
    assert Colour.objects.get(code="RED").lab_l == Decimal("53.24")


def exported(client: Client, model: str, *, kind: str) -> bytes:
    url = reverse(f"admin:inventory_{model}_export")
    header = client.get(url).context["form"].fields
    names = {name: "on" for name in header if name not in ("format", "resource", "export_items")}
    return client.post(url, {"format": kind, **names}).content


@pytest.mark.parametrize(
    ("model", "file"),
    [
        ("sku", "skus.csv"),
        ("colour", "colours.csv"),
        ("material", "materials.csv"),
        ("spoolsize", "spool_sizes.csv"),
        ("filament", "filaments.csv"),
        ("diameter", "diameters.csv"),
        ("item", "items.csv"),
    ],
)
def test_export_holds_the_rows_of_the_plant_file(
    admin_client: Client, loaded: LoadReport, model: str, file: str
) -> None:
    text = exported(admin_client, model, kind=CSV).decode("utf-8-sig")
    assert sorted(csv.reader(StringIO(text))) == sorted(csv.reader(StringIO(SMALL_PLANT[file])))


def test_export_of_a_spreadsheet_has_numbers_as_numbers_and_codes_as_text(
    admin_client: Client, loaded: LoadReport
) -> None:
    sheet = openpyxl.load_workbook(BytesIO(exported(admin_client, "sku", kind=XLSX))).active
    rows = {row[0]: row for row in sheet.iter_rows(min_row=2, values_only=True)}
    stone = dict(zip(SKU_HEADER, rows["PLA-STONE-175-1000"], strict=True))
    assert (stone["gtin"], stone["value"]) == ("9520000000011", 9)


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1"])
def test_guarded_cell_begins_with_no_sign_of_a_formula(text: str) -> None:
    # CWE-1236: a spreadsheet runs cells that begin with one of = + - @, tab or carriage return.
    assert guarded(text)[0] not in "=+-@\t\r"
    assert unguarded(guarded(text)) == text


@pytest.mark.parametrize("kind", [CSV, XLSX])
def test_export_writes_no_formulae(admin_client: Client, loaded: LoadReport, kind: str) -> None:
    Item.objects.filter(code="PLA-SNOW-175-250").update(name="=HYPERLINK(1)")
    content = exported(admin_client, "sku", kind=kind)
    cells = [cell for row in rows_of(content, kind) for cell in row]
    assert "'=HYPERLINK(1)" in cells
    assert "=HYPERLINK(1)" not in cells


def rows_of(content: bytes, kind: str) -> list[tuple[object, ...]]:
    if kind == CSV:
        return [tuple(row) for row in csv.reader(StringIO(content.decode("utf-8-sig")))]
    return list(openpyxl.load_workbook(BytesIO(content)).active.iter_rows(values_only=True))


def test_export_of_a_guarded_cell_imports_as_it_was(admin_client: Client, loaded: LoadReport) -> None:
    Item.objects.filter(code="PLA-SNOW-175-250").update(name="=HYPERLINK(1)")
    content = exported(admin_client, "sku", kind=CSV)
    Item.objects.filter(code="PLA-SNOW-175-250").update(name="changed")
    confirm(admin_client, "sku", preview(admin_client, "sku", SimpleUploadedFile("t.csv", content), kind=CSV))
    assert Item.objects.get(code="PLA-SNOW-175-250").name == "=HYPERLINK(1)"
