"""SKUs by words of their code, name, GTIN, material and colour; one search for API and pages."""

from __future__ import annotations

from inventory.models import Sku
from inventory.rules.search import search_ranks


def sku_search_ranks(search: str) -> dict[int, int]:
    """Return the SKUs that a search finds, by id, with their rank (see `rules.search`). One query."""
    texts = Sku.objects.order_by().values_list(
        "pk", "item__code", "item__name", "gtin", "filament__material__name", "filament__colour__name"
    )
    return search_ranks(search, {pk: [text for text in row if text] for pk, *row in texts})
