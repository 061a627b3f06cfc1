"""Which SKUs changed since a reader last asked, so that a reader that follows them misses none.

Numbers of transactions grow, but transactions end in any order: a reader that took what it sees and went on behind the
highest number would miss the ones that end later. So what is told ends below the oldest transaction that still writes
on the database server, in whichever database, for they share their numbers; what that one and later ones change is told
when it is over. A row that changes again moves to the end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from django.db import connection
from django.db.models import Q

from inventory.models import ShelfStock


@dataclass(frozen=True)
class StockChanges:
    """SKUs in the order of their last change, and where the reader stands after them."""

    BEGINNING: ClassVar[str] = "0-0"
    sku_codes: tuple[str, ...]
    cursor: str
    has_more: bool


def stock_changes(*, after: str, limit: int) -> StockChanges:
    """Return the SKUs whose stock changed after a cursor. Two queries on PostgreSQL, one on SQLite.

    Call it outside of a transaction that writes: its own changes are not over.
    """
    change_no, sku_id = (int(part) for part in after.split("-"))
    later = Q(change_no__gt=change_no) | Q(change_no=change_no, sku_id__gt=sku_id)
    rows = ShelfStock.objects.filter(later & _over()).order_by("change_no", "sku_id")
    found = list(rows.values_list("change_no", "sku_id", "sku__item__code")[: limit + 1])
    page = found[:limit]
    return StockChanges(
        sku_codes=tuple(code for _, _, code in page),
        cursor=f"{page[-1][0]}-{page[-1][1]}" if page else after,
        has_more=len(found) > limit,
    )


def _over() -> Q:
    """Changes by transactions that are over. Asked before the rows are read, so that the rows show all of them."""
    if connection.vendor != "postgresql":
        return Q()
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_snapshot_xmin(pg_current_snapshot())::text::bigint")
        return Q(change_no__lt=cursor.fetchone()[0])
