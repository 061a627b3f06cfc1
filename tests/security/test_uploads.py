"""Files that are sent in to exhaust the server or to lead it to other files (CWE-409, CWE-22, CWE-776)."""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.admin import uploads
from inventory.models import Colour

IMPORT = "/admin/inventory/colour/import/"
CONFIRM = "/admin/inventory/colour/process_import/"
CSV, XLSX = "0", "1"
HEADER = ["code", "name", "hex", "lab_l", "concentrate_item", "let_down_share", "purge_follows"]
SHEET = "xl/worksheets/sheet1.xml"


def workbook(*rows: list[object]) -> bytes:
    book, content = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(content)
    return content.getvalue()


def with_part(content: bytes, name: str, part: bytes) -> bytes:
    """The workbook with one part of its archive replaced or added."""
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED) as new:
        for other in old.namelist():
            if other != name:
                new.writestr(other, old.read(other))
        new.writestr(name, part)
    return changed.getvalue()


def sheet_xml(rows: str, *, prolog: str = "") -> bytes:
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<?xml version="1.0"?>{prolog}<worksheet xmlns="{space}"><sheetData>{rows}</sheetData></worksheet>'.encode()


def sent(client: Client, content: bytes, *, name: str = "table.xlsx", kind: str = XLSX) -> str:
    file = SimpleUploadedFile(name, content)
    answer = client.post(IMPORT, {"import_file": file, "format": kind})
    assert answer.status_code == 200
    return answer.content.decode()


def test_workbook_that_unfolds_to_gigabytes_is_refused_unread(admin_client: Client) -> None:
    bomb = with_part(workbook(HEADER), "xl/media/zeros.bin", bytes(uploads.LARGEST_UNFOLDED_BYTES + 1))
    assert len(bomb) < 200_000
    assert "The workbook unfolds to" in sent(admin_client, bomb)


def test_workbook_of_very_many_parts_is_refused(admin_client: Client) -> None:
    content = io.BytesIO(workbook(HEADER))
    with zipfile.ZipFile(content, "a") as archive:
        for number in range(uploads.MOST_PARTS):
            archive.writestr(f"xl/media/{number}", b"")
    assert "parts; at most" in sent(admin_client, content.getvalue())


def test_cell_a_million_rows_down_is_refused_without_the_rows_between(admin_client: Client) -> None:
    far = sheet_xml('<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')
    assert "rows." in sent(admin_client, with_part(workbook(HEADER), SHEET, far))


def test_cell_sixteen_thousand_columns_away_is_refused(admin_client: Client) -> None:
    assert "columns." in sent(admin_client, workbook([*HEADER, *["x"] * 200]))


def test_entities_that_multiply_are_refused(admin_client: Client) -> None:
    """The "billion laughs" document (CWE-776)."""
    entities = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    prolog = f'<!DOCTYPE worksheet [<!ENTITY e0 "ha">{entities}]>'
    bomb = sheet_xml('<row r="1"><c r="A1" t="str"><v>&e9;</v></c></row>', prolog=prolog)
    assert "encountered while trying to read file" in sent(admin_client, with_part(workbook(HEADER), SHEET, bomb))


def test_entity_that_names_a_file_reads_nothing_of_it(admin_client: Client, tmp_path: Path) -> None:
    """XXE (CWE-611)."""
    secret = tmp_path / "secret"
    secret.write_text("the secret of the server")
    prolog = f'<!DOCTYPE worksheet [<!ENTITY file SYSTEM "file://{secret}">]>'
    cells = "".join(f'<c r="{column}1" t="str"><v>&file;</v></c>' for column in "ABC")
    bomb = sheet_xml(f'<row r="1">{cells}</row>', prolog=prolog)
    assert "the secret of the server" not in sent(admin_client, with_part(workbook(HEADER), SHEET, bomb))


@pytest.mark.parametrize(("name", "kind"), [("table.csv", CSV), ("table.xlsx", XLSX)])
def test_file_that_is_too_long_is_refused_unread(admin_client: Client, name: str, kind: str) -> None:
    text = sent(admin_client, bytes(uploads.LARGEST_FILE_BYTES + 1), name=name, kind=kind)
    assert f"at most {uploads.LARGEST_FILE_BYTES} are read" in text


def test_what_is_no_workbook_is_told(admin_client: Client) -> None:
    assert "encountered while trying to read file" in sent(admin_client, b"not a zip file")


@pytest.mark.parametrize("name", ["../secret.csv", "/etc/hostname", "secret.csv", "", "x" * 32, "0" * 33])
def test_name_of_a_waiting_file_leads_to_no_other(admin_client: Client, name: str) -> None:
    other = Path(tempfile.gettempdir()) / "secret.csv"
    other.write_text("code,name\nSECRET,Secret\n")
    values = {"import_file_name": name, "original_file_name": "a.csv", "format": CSV, "resource": ""}
    answer = admin_client.post(CONFIRM, values)
    assert answer.status_code in (200, 400)
    assert "SECRET" not in answer.content.decode()
    assert other.exists()
    assert not Colour.objects.exists()
    other.unlink()


@pytest.mark.parametrize("kind", ["2", "-1", "csv", ""])
def test_unknown_format_is_refused(admin_client: Client, kind: str) -> None:
    values = {"import_file_name": "0" * 32, "original_file_name": "a.csv", "format": kind, "resource": ""}
    assert admin_client.post(CONFIRM, values).status_code == 200


@pytest.mark.parametrize("path", ["/static/../stockplan/settings.py", "/static/%2e%2e/%2e%2e/etc/passwd"])
def test_static_files_lead_to_no_other(client: Client, path: str) -> None:
    assert client.get(path).status_code == 404
