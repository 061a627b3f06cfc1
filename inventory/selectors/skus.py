"""The catalogue as a list of SKUs."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from inventory.models import Sku
from inventory.selectors.search import sku_search_ranks


@dataclass(frozen=True)
class SkuRow:
    """What is sold: one filament on one spool size."""

    sku_code: str
    name: str
    gtin: str | None
    filament_code: str
    material_code: str
    colour_code: str
    colour_name: str
    hex: str
    diameter_mm: float
    net_g: int
    is_stocked: bool
    active_from: date
    active_to: date | None
    is_on_sale: bool


@dataclass(frozen=True)
class SkuCard:
    """What people know a SKU by."""

    name: str
    hex: str
    gtin: str | None


def sku_cards(codes: Collection[str]) -> dict[str, SkuCard]:
    """Return what people know these SKUs by, those that there are. One query."""
    rows = Sku.objects.filter(item__code__in=codes).values_list(
        "item__code", "item__name", "filament__colour__hex", "gtin"
    )
    return {code: SkuCard(name, colour, gtin) for code, name, colour, gtin in rows}


def sku_rows(
    *,
    day: date,
    material: str | None = None,
    search: str | None = None,
    is_on_sale: bool | None = None,
    after: str = "",
    limit: int,
) -> list[SkuRow]:
    """Return SKUs in the order of their codes from `after` on. `day` tells which are on sale. Two queries at most."""
    skus = Sku.objects.select_related(
        "item", "spool_size", "filament__material", "filament__colour", "filament__diameter"
    )
    on_sale = Q(active_from__lte=day) & (Q(active_to__isnull=True) | Q(active_to__gte=day))
    if material is not None:
        skus = skus.filter(filament__material__code=material)
    if is_on_sale is not None:
        skus = skus.filter(on_sale if is_on_sale else ~on_sale)
    if search is not None:
        skus = skus.filter(pk__in=sku_search_ranks(search))
    return [_row(sku, day) for sku in skus.filter(item__code__gt=after).order_by("item__code")[:limit]]


def _row(sku: Sku, day: date) -> SkuRow:
    filament = sku.filament
    return SkuRow(
        sku_code=sku.item.code,
        name=sku.item.name,
        gtin=sku.gtin,
        filament_code=filament.code,
        material_code=filament.material.code,
        colour_code=filament.colour.code,
        colour_name=filament.colour.name,
        hex=filament.colour.hex,
        diameter_mm=float(filament.diameter.nominal_mm),
        net_g=sku.spool_size.net_g,
        is_stocked=sku.is_stocked,
        active_from=sku.active_from,
        active_to=sku.active_to,
        is_on_sale=sku.active_from <= day and (sku.active_to is None or sku.active_to >= day),
    )
