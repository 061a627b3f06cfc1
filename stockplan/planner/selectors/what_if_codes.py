"""The codes that a what-if may name."""

from __future__ import annotations

from collections.abc import Mapping

from inventory.models import Filament, Item, Line

MATERIALS = (Item.Kind.RESIN, Item.Kind.CONCENTRATE)


def what_if_codes() -> Mapping[str, list[str]]:
    """Return filaments, lines in use, SKUs, and resins and concentrates by their codes. Three queries."""
    items = list(Item.objects.filter(kind__in=[Item.Kind.SKU, *MATERIALS]).order_by("code").values_list("code", "kind"))
    return {
        "filament": list(Filament.objects.order_by("code").values_list("code", flat=True)),
        "line": list(Line.objects.filter(is_active=True).order_by("code").values_list("code", flat=True)),
        "sku": [code for code, kind in items if kind == Item.Kind.SKU],
        "item": [code for code, kind in items if kind in MATERIALS],
    }
