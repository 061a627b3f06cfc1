"""Rows of the tables of counts, for CSV."""

from __future__ import annotations

from collections.abc import Iterator

from django.http import HttpRequest
from django.utils import timezone

from inventory.selectors.counting import next_counts
from inventory.wording import in_words
from stockplan.planner.pages.counts import accuracy_of_the_quarter, sheet_or_404
from stockplan.planner.pages.table_rows import at_minute

Row = tuple[object, ...]
MOST_ROWS = 5_000

NEXT = ("sku", "name", "shelf_place", "class", "last_counted_at", "movements", "chance_wrong", "why")
SHEET = ("sheet", "shelf_place", "sku", "name", "gtin", "state", "counts", "in_the_books", "counted")
ACCURACY = (
    "by",
    "group",
    "counted_lines",
    "exact_lines",
    "within_lines",
    "book_spools",
    "net_spools",
    "absolute_spools",
)


def next_rows(_request: HttpRequest) -> Iterator[Row]:
    """All that is worth counting, by falling risk."""
    for row in next_counts(as_of=timezone.now(), limit=MOST_ROWS):
        last = at_minute(row.last_counted_at)
        named = (row.sku_code, row.name, row.shelf_place, row.value_class)
        yield (*named, last, row.movements, round(row.chance_wrong, 4), in_words(row.reason))


def sheet_rows(request: HttpRequest) -> Iterator[Row]:
    """Lines of the sheet that `?code=` names; what the books say only of those that are settled."""
    found = sheet_or_404(request.GET.get("code", ""))
    for line in found.lines:
        book, counted = ("" if spools is None else spools for spools in (line.book_spools, line.counted_spools))
        named = (line.shelf_place, line.sku_code, line.name, line.gtin or "")
        yield (found.code, *named, line.state, line.counts, book, counted)


def accuracy_rows(_request: HttpRequest) -> Iterator[Row]:
    """How right the books were, by class of value and by shelf place."""
    found = accuracy_of_the_quarter()
    for by, rows in (("class", found.by_class), ("place", found.by_place)):
        for row in rows:
            lines = (row.counted_lines, row.exact_lines, row.within_lines)
            yield (by, row.group, *lines, row.book_spools, row.net_spools, row.absolute_spools)
