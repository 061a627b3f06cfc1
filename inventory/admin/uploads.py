"""Files that people send in for an import: how long they may be, where they wait, and what a workbook may unfold to.

A workbook is a zip file of XML, so a small one can unfold to gigabytes, or name a cell a million rows down.
"""

from __future__ import annotations

import os
import re
import tempfile
import zipfile
from io import BytesIO
from pathlib import Path
from typing import IO, Any
from uuid import uuid4

import openpyxl  # type: ignore[import-untyped]
from django import forms
from django.core.exceptions import SuspiciousFileOperation
from django.utils.translation import gettext as _
from import_export.forms import ConfirmImportForm, ImportForm  # type: ignore[import-untyped]
from import_export.tmp_storages import TempFolderStorage  # type: ignore[import-untyped]
from tablib import Dataset  # type: ignore[import-untyped]

LARGEST_FILE_BYTES = 5_000_000
LARGEST_UNFOLDED_BYTES = 50_000_000
MOST_PARTS = 200
MOST_ROWS = 20_000
MOST_COLUMNS = 100
_NAME = re.compile(r"[0-9a-f]{32}")


class TableTooLargeError(ValueError):
    """A file unfolds to more than any honest table."""


class SizedImportForm(ImportForm):  # type: ignore[misc]
    """Takes a file of at most `LARGEST_FILE_BYTES`."""

    def clean_import_file(self) -> Any:
        """Return the file, if it is short enough.

        Raises
        ------
        ValidationError
            With its length and the longest allowed.
        """
        file = self.cleaned_data["import_file"]
        if file.size > LARGEST_FILE_BYTES:
            raise forms.ValidationError(
                _("The file has %(size)d bytes; at most %(most)d are read.")
                % {"size": file.size, "most": LARGEST_FILE_BYTES}
            )
        return file


class NamedConfirmForm(ConfirmImportForm):  # type: ignore[misc]
    """Takes only names that `WaitingFile` gives and formats by their number."""

    import_file_name = forms.RegexField(rf"^{_NAME.pattern}\Z", widget=forms.HiddenInput())
    format = forms.RegexField(r"^[01]\Z", widget=forms.HiddenInput())


class WaitingFile(TempFolderStorage):  # type: ignore[misc]
    """A file between preview and confirmation, in a folder of this user's alone under a name that we gave."""

    name: str | None

    def get_full_path(self) -> str:
        """Return where it lies.

        Raises
        ------
        SuspiciousFileOperation
            If the name is none of ours, so might lead to another file.
        """
        name = self.name or ""
        if not _NAME.fullmatch(name):
            raise SuspiciousFileOperation("No import waits under this name.")
        folder = Path(tempfile.gettempdir()) / f"stockplan-imports-{os.getuid()}"
        folder.mkdir(mode=0o700, exist_ok=True)
        return str(folder / name)

    def _open(self, mode: str = "r") -> IO[Any]:
        if self.name:
            return Path(self.get_full_path()).open(mode, encoding=self.encoding)
        self.name = uuid4().hex
        return Path(self.get_full_path()).open("xb")


def table_of_workbook(content: bytes) -> Dataset:
    """Return the first sheet of a workbook.

    Raises
    ------
    TableTooLargeError
        If it would unfold to too many bytes, parts, rows or columns; nothing is unfolded then.
    """
    _check_parts(content)
    sheet = openpyxl.load_workbook(BytesIO(content), read_only=True, data_only=True).active
    if sheet is None:
        raise ValueError(_("The workbook has no sheet."))
    # What the sheet says of its own size is not to be believed.
    sheet.reset_dimensions()
    rows = list(sheet.iter_rows(max_row=MOST_ROWS + 2, max_col=MOST_COLUMNS + 1, values_only=True))
    if len(rows) > MOST_ROWS + 1:
        raise TableTooLargeError(_("The sheet has more than %(most)d rows.") % {"most": MOST_ROWS})
    filled = max((number for row in rows for number, cell in enumerate(row, 1) if cell is not None), default=0)
    if filled > MOST_COLUMNS:
        raise TableTooLargeError(_("The sheet has more than %(most)d columns.") % {"most": MOST_COLUMNS})
    even = [tuple(row[:filled]) + (None,) * (filled - len(row)) for row in rows]
    return Dataset(*even[1:], headers=list(even[0]) if even else [])


def _check_parts(content: bytes) -> None:
    with zipfile.ZipFile(BytesIO(content)) as archive:
        parts = archive.infolist()
    unfolded = sum(part.file_size for part in parts)
    # Neither can lie: a part is read up to the length that it states.
    if len(parts) > MOST_PARTS or unfolded > LARGEST_UNFOLDED_BYTES:
        raise TableTooLargeError(
            _(
                "The workbook unfolds to %(bytes)d bytes in %(parts)d parts; at most %(most)d in %(most_parts)d are "
                "read."
            )
            % {"bytes": unfolded, "parts": len(parts), "most": LARGEST_UNFOLDED_BYTES, "most_parts": MOST_PARTS}
        )
