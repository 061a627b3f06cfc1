"""What is free in place of SKUs that are short: near colours in the same form, the same filament on other spools."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import F, Q

from inventory.models import Sku
from inventory.rules.substitutes import nearest_colours

# What fits on one line beside the SKU, and how far a colour may be from it; rules of ours, no source.
NEAREST_SHOWN, MOST_APART = 3, 20.0


@dataclass(frozen=True)
class Substitute:
    """A SKU with free spools. `difference` is the CIEDE2000 difference of the colours, 0 for the same filament."""

    sku_code: str
    name: str
    hex: str
    free: int
    difference: float


@dataclass(frozen=True)
class Substitutes:
    """What may be offered in place of one SKU."""

    nearest: tuple[Substitute, ...]
    other_sizes: tuple[Substitute, ...]


def substitutes(sku_ids: Collection[int], *, today: date) -> dict[int, Substitutes]:
    """Return what is free and on sale in place of each SKU. Two queries, none without a SKU.

    The nearest colours, where any comes near, are of the same material, diameter and spool size, for the customer's
    machine and profile; the other sizes are of the same filament, by mass.
    """
    if not sku_ids:
        return {}
    short = [_Sku(*row) for row in Sku.objects.filter(pk__in=sku_ids).order_by().values_list(*_FIELDS)]
    by_size: defaultdict[tuple[int, int, int], list[_Sku]] = defaultdict(list)
    by_filament: defaultdict[int, list[_Sku]] = defaultdict(list)
    for other in _free(short, today=today):
        by_size[other.form].append(other)
        by_filament[other.filament_id].append(other)
    return {sku.pk: _instead_of(sku, by_size[sku.form], by_filament[sku.filament_id]) for sku in short}


@dataclass(frozen=True)
class _Sku:
    pk: int
    code: str
    name: str
    hex: str
    filament_id: int
    material_id: int
    diameter_id: int
    spool_size_id: int
    free: int | None

    @property
    def form(self) -> tuple[int, int, int]:
        return self.material_id, self.diameter_id, self.spool_size_id


_FIELDS = (
    "pk",
    "item__code",
    "item__name",
    "filament__colour__hex",
    "filament_id",
    "filament__material_id",
    "filament__diameter_id",
    "spool_size_id",
    F("shelf_stock__on_shelf") - F("shelf_stock__allocated"),
)


def _free(short: Sequence[_Sku], *, today: date) -> list[_Sku]:
    """What is free and on sale of the materials that are short, by mass and code."""
    on_sale = Q(active_to=None) | Q(active_to__gte=today)
    has_free = Q(shelf_stock__on_shelf__gt=F("shelf_stock__allocated"))
    skus = Sku.objects.filter(on_sale, has_free, active_from__lte=today)
    skus = skus.filter(filament__material_id__in={sku.material_id for sku in short})
    return [_Sku(*row) for row in skus.order_by("spool_size__net_g", "item__code").values_list(*_FIELDS)]


def _instead_of(sku: _Sku, same_form: Sequence[_Sku], same_filament: Sequence[_Sku]) -> Substitutes:
    others = {other: other.hex for other in same_form if other.filament_id != sku.filament_id}
    nearest = nearest_colours(sku.hex, others, most=NEAREST_SHOWN)
    return Substitutes(
        nearest=tuple(_substitute(other, apart) for other, apart in nearest if apart <= MOST_APART),
        other_sizes=tuple(_substitute(other, 0.0) for other in same_filament if other.pk != sku.pk),
    )


def _substitute(sku: _Sku, difference: float) -> Substitute:
    return Substitute(sku.code, sku.name, sku.hex, sku.free or 0, difference)
