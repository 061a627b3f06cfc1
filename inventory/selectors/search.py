"""SKUs by words of their code, name, GTIN, material and colour; one search for API and pages."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.models import Sku
from inventory.rules.gs1 import gtin_of_scan
from inventory.rules.search import search_ranks


@dataclass(frozen=True)
class FoundSku:
    """A SKU that a search finds, with its rank (see `rules.search`)."""

    code: str
    rank: int


def found_skus(search: str) -> list[FoundSku]:
    """Return the SKUs that a search finds, the best finds first, then by code; all without a search. Two queries."""
    ranks = sku_search_ranks(search)
    codes = Sku.objects.order_by("item__code").values_list("pk", "item__code")
    return sorted((FoundSku(code, ranks[pk]) for pk, code in codes if pk in ranks), key=lambda one: one.rank)


def sku_search_ranks(search: str) -> dict[int, int]:
    """Return the SKUs that a search finds, by id, with their rank (see `rules.search`). One query.

    What a scanner types on reading a label counts as the GTIN in it.
    """
    texts = Sku.objects.order_by().values_list(
        "pk", "item__code", "item__name", "gtin", "filament__material__name", "filament__colour__name"
    )
    return search_ranks(gtin_of_scan(search) or search, {pk: [text for text in row if text] for pk, *row in texts})
