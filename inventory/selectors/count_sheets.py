"""Count sheets and their lines as rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Count, Q, QuerySet

from inventory.errors import NotFoundError
from inventory.models import CountLine, CountSheet


@dataclass(frozen=True)
class CountLineRow:
    """One line of a sheet. What the books say is None until the line is settled: the count is blind."""

    sku_code: str
    name: str
    gtin: str | None
    colour_hex: str
    shelf_place: str
    value_class: str
    state: str
    counts: int
    counted_spools: int | None
    book_spools: int | None
    movement_id: int | None

    @property
    def is_waiting(self) -> bool:
        """Whether it is still to be counted."""
        return self.state in CountLine.WAITING

    @property
    def state_label(self) -> str:
        """Its state in words."""
        return str(CountLine.State(self.state).label)


@dataclass(frozen=True)
class CountSheetRow:
    """One sheet with its lines in the order of their places."""

    id: int
    code: str
    opened_at: datetime
    closed_at: datetime | None
    tolerance_share: Decimal
    lines: tuple[CountLineRow, ...]

    @property
    def waiting(self) -> int:
        """Lines that are still to be counted."""
        return sum(line.is_waiting for line in self.lines)


@dataclass(frozen=True)
class CountSheetHead:
    """One sheet in a list: how many of its lines still wait to be counted, and how many it has."""

    code: str
    opened_at: datetime
    closed_at: datetime | None
    waiting: int
    lines: int


def count_sheet_heads(*, limit: int) -> list[CountSheetHead]:
    """Return the newest sheets, those that wait to be counted first. One query."""
    waiting = Count("lines", filter=Q(lines__state__in=CountLine.WAITING))
    sheets = CountSheet.objects.annotate(waiting=waiting, in_all=Count("lines")).annotate(waits=Q(waiting__gt=0))
    return [
        CountSheetHead(sheet.code, sheet.opened_at, sheet.closed_at, waiting=sheet.waiting, lines=sheet.in_all)
        for sheet in sheets.order_by("-waits", "-pk")[:limit]
    ]


def count_sheet_row(code: str) -> CountSheetRow:
    """Return one sheet. Two queries.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    rows = _sheet_rows(CountSheet.objects.filter(code=code))
    if not rows:
        raise NotFoundError("There is no count sheet {code!r}.", code=code)
    return rows[0]


def count_sheet_rows(*, after_id: int = 0, limit: int) -> list[CountSheetRow]:
    """Return sheets in the order of their opening. Two queries."""
    return _sheet_rows(CountSheet.objects.filter(pk__gt=after_id).order_by("pk")[:limit])


def _sheet_rows(sheets: QuerySet[CountSheet]) -> list[CountSheetRow]:
    found = list(sheets)
    lines: dict[int, list[CountLineRow]] = {sheet.pk: [] for sheet in found}
    rows = (
        CountLine.objects.filter(sheet__in=lines)
        .select_related("sku__item", "sku__filament__colour")
        .annotate(counts=Count("entries"))
    )
    for line in rows.order_by("sheet_id", "shelf_place", "sku__item__code"):
        lines[line.sheet_id].append(_line_row(line, counts=line.counts))
    return [
        CountSheetRow(
            id=sheet.pk,
            code=sheet.code,
            opened_at=sheet.opened_at,
            closed_at=sheet.closed_at,
            tolerance_share=sheet.tolerance_share,
            lines=tuple(lines[sheet.pk]),
        )
        for sheet in found
    ]


def _line_row(line: CountLine, *, counts: int) -> CountLineRow:
    return CountLineRow(
        sku_code=line.sku.item.code,
        name=line.sku.item.name,
        gtin=line.sku.gtin,
        colour_hex=line.sku.filament.colour.hex,
        shelf_place=line.shelf_place,
        value_class=line.value_class,
        state=line.state,
        counts=counts,
        counted_spools=line.counted_spools,
        book_spools=line.book_spools,
        movement_id=line.movement_id,
    )
