"""Codes offered while somebody types one into a field: the few that hold each word typed, in code or name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Model, Q, QuerySet

from inventory.models import Filament, Item, Line

MOST_OFFERED = 20
MATERIALS = (Item.Kind.RESIN, Item.Kind.CONCENTRATE)


@dataclass(frozen=True)
class _Offered:
    """Rows with a code, and the field that says in words what they are."""

    rows: QuerySet[Model]
    name: str


def offered_codes(kind: str, typed: str) -> list[tuple[str, str]]:
    """Return code and name of at most 20 rows of a kind (`OFFERED`), by code. One query.

    Raises
    ------
    KeyError
        If there is no such kind.
    """
    offered = OFFERED[kind]
    rows = offered.rows
    for word in typed.split():
        rows = rows.filter(Q(code__icontains=word) | Q(**{f"{offered.name}__icontains": word}))
    return list(rows.order_by("code").values_list("code", offered.name)[:MOST_OFFERED])


OFFERED: Mapping[str, _Offered] = {
    "item": _Offered(Item.objects.all(), "name"),
    "sku": _Offered(Item.objects.filter(kind=Item.Kind.SKU), "name"),
    "material": _Offered(Item.objects.filter(kind__in=MATERIALS), "name"),
    "filament": _Offered(Filament.objects.all(), "colour__name"),
    "line": _Offered(Line.objects.filter(is_active=True), "name"),
}
