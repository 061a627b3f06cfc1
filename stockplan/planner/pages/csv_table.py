"""A table of a page as CSV, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence

from django.http import HttpResponse

from inventory.admin.tables import guarded


def csv_answer(name: str, heads: Sequence[str], rows: Iterable[Sequence[object]]) -> HttpResponse:
    """Answer a table as a file of that name; no cell begins a formula."""
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    writer = csv.writer(response)
    writer.writerow(heads)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return response
