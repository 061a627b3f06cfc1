"""Spools between the line and the shelf: what waits for an oven, what dries, what is dry and waits to be packed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Min

from inventory.models import Allocation, Balance, CartSpools, Oven, OvenLoad, Place, RunOutput, Sku
from inventory.rules.flows import PIPELINE


@dataclass(frozen=True)
class FinishingRow:
    """Spools of one lot at one place of the pipeline.

    `needed` of them belong to orders, the first of which is due on `due_day`; `shelf_at` is when they are expected on
    the shelf. `on_carts` of them stand on carts and go with these. `dry_h` 0: they need no oven.
    """

    lot_code: str
    run_code: str | None
    sku_code: str
    sku_name: str
    gtin: str | None
    colour_hex: str
    net_g: int
    spools: int
    on_carts: int
    needed: int
    due_day: date | None
    shelf_at: datetime | None
    places_each: float
    low_c: int
    high_c: int
    dry_h: float

    @property
    def loose(self) -> int:
        """Spools that stand on no cart."""
        return max(self.spools - self.on_carts, 0)


@dataclass(frozen=True)
class OvenBoard:
    """An oven with its load; `ready_at` None: it is empty."""

    code: str
    name: str
    places: int
    temperature_c: int
    load_code: str | None
    loaded_at: datetime | None
    ready_at: datetime | None
    rows: tuple[FinishingRow, ...]

    @property
    def places_taken(self) -> float:
        return sum(row.spools * row.places_each for row in self.rows)


@dataclass(frozen=True)
class FinishingBoard:
    """All spools between line and shelf."""

    wound: tuple[FinishingRow, ...]
    ovens: tuple[OvenBoard, ...]
    bench: tuple[FinishingRow, ...]


def finishing_board() -> FinishingBoard:
    """Return what is where between line and shelf, those due first before the others. Seven queries."""
    rows = list(
        Balance.objects.filter(place__kind__in=PIPELINE, quantity__gt=0)
        .select_related("place", "lot__run")
        .order_by("lot__created_at", "lot__code")
    )
    skus = Sku.objects.select_related("item", "spool_size", "filament__colour", "filament__material").in_bulk(
        [row.item_id for row in rows]
    )
    wanted = _wanted({row.lot.run_id for row in rows if row.lot.run_id is not None})
    on_carts = _on_carts()
    built = [(row.place, _row(row, skus[row.item_id], wanted, on_carts)) for row in rows]
    loads = {load.oven_id: load for load in OvenLoad.objects.filter(unloaded_at__isnull=True)}
    return FinishingBoard(
        wound=_sorted(row for place, row in built if place.kind == Place.Kind.WOUND),
        ovens=tuple(
            _oven(oven, loads.get(oven.pk), _sorted(row for place, row in built if place.oven_id == oven.pk))
            for oven in Oven.objects.order_by("code")
        ),
        bench=_sorted(row for place, row in built if place.kind == Place.Kind.PACKING),
    )


@dataclass(frozen=True)
class _Wanted:
    allocated: int
    due_day: date | None
    shelf_at: datetime


def _wanted(run_ids: Iterable[int]) -> dict[tuple[int, int], _Wanted]:
    """Return by run and SKU how many awaited spools belong to orders, and when the first of these is due."""
    outputs = list(RunOutput.objects.filter(run_id__in=list(run_ids)))
    due = dict(
        Allocation.objects.filter(end="", run_output__in=outputs)
        .order_by()
        .values_list("run_output_id")
        .annotate(Min("order_line__order__due_day"))
    )
    return {(row.run_id, row.sku_id): _Wanted(row.allocated, due.get(row.pk), row.shelf_at) for row in outputs}


def _on_carts() -> Counter[tuple[int, str]]:
    """Return the spools on carts by lot and by where they lie: wound, in an oven or on the bench."""
    found: Counter[tuple[int, str]] = Counter()
    fields = ("lot_id", "spools", "cart__oven_load_id", "cart__oven_load__unloaded_at")
    for lot_id, spools, load_id, unloaded_at in CartSpools.objects.values_list(*fields):
        kind = Place.Kind.WOUND if load_id is None else Place.Kind.OVEN if unloaded_at is None else Place.Kind.PACKING
        found[lot_id, kind] += spools
    return found


def _row(
    balance: Balance,
    sku: Sku,
    wanted: Mapping[tuple[int, int], _Wanted],
    on_carts: Mapping[tuple[int, str], int],
) -> FinishingRow:
    lot, size, material = balance.lot, sku.spool_size, sku.filament.material
    asked = wanted.get((lot.run_id, balance.item_id)) if lot.run_id is not None else None
    spools = int(balance.quantity)
    return FinishingRow(
        lot_code=lot.code,
        run_code=lot.run.code if lot.run else None,
        sku_code=sku.item.code,
        sku_name=sku.item.name,
        gtin=sku.gtin,
        colour_hex=sku.filament.colour.hex,
        net_g=size.net_g,
        spools=spools,
        on_carts=on_carts[lot.pk, balance.place.kind],
        needed=min(spools, asked.allocated) if asked else 0,
        due_day=asked.due_day if asked else None,
        shelf_at=asked.shelf_at if asked else None,
        places_each=float(size.oven_places),
        low_c=material.spool_dry_min_c,
        high_c=min(material.spool_dry_max_c, size.max_temp_c),
        dry_h=float(material.spool_dry_hours),
    )


def _oven(oven: Oven, load: OvenLoad | None, rows: tuple[FinishingRow, ...]) -> OvenBoard:
    return OvenBoard(
        code=oven.code,
        name=oven.name,
        places=oven.places,
        temperature_c=oven.temperature_c,
        load_code=load.code if load else None,
        loaded_at=load.loaded_at if load else None,
        ready_at=load.ready_at if load else None,
        rows=rows,
    )


def _sorted(rows: Iterable[FinishingRow]) -> tuple[FinishingRow, ...]:
    return tuple(sorted(rows, key=lambda row: (not row.needed, row.due_day or date.max, row.lot_code)))
