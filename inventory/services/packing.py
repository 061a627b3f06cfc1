"""Packing: dried spools become countable stock on the shelf, and the orders that wait for them are served."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.models import Cart, Item, Movement, Oven, OvenLoad, Place
from inventory.rules.clock import Clock
from inventory.rules.texts import text
from inventory.services.cart_stock import check_left_for_carts
from inventory.services.drawing import draw_from_store
from inventory.services.ledger import LineDraft, place, post_movement
from inventory.services.ovens import close_empty_loads
from inventory.services.spool_sources import (
    NamedSpools,
    SpoolSpec,
    lock_spools,
    named_spools,
    spool_lines,
    too_few_spools,
)
from inventory.services.transactions import in_one_transaction


@in_one_transaction
def pack(
    *,
    spools: Sequence[SpoolSpec],
    clock: Clock,
    carts: Collection[Cart] = (),
    posted_by: AbstractBaseUser | None = None,
) -> Movement:
    """Pack spools to the shelf: from the bench, from ovens whose load is ready, and, where no drying is needed, wound.

    Fewer than awaited may be packed; the rest stays awaited. Each spool takes its box and, where the
    plant keeps it, a piece of desiccant out of the store. The promises
    on these spools move to the shelf with them, and what is left free serves orders that wait. Spools on carts are
    packed with their `carts`, the others are those that stand on none.

    Raises
    ------
    NotFoundError
        If a SKU, run or lot do not exist.
    NotEnoughStockError
        If fewer spools are ready to be packed.
    OnCartError
        If what is ready stands on other carts.
    """
    named = named_spools(spools)
    dried, wound = _dried_places(clock=clock), place(Place.Kind.WOUND)
    places = {row.pk: row for row in (*dried, wound)}
    shelf = place(Place.Kind.SHELF)
    stock = lock_spools(named, places=list(places.values()), clock=clock)
    lines: list[LineDraft] = []
    for row, spec in enumerate(named):
        is_dried_first = spec.sku.filament.material.spool_dry_hours > 0
        usable = [row.pk for row in dried] if is_dried_first else list(places)
        parts, missing = stock.take(spec, place_ids=usable)
        if missing:
            raise too_few_spools(
                spec, row=row, there=text("{n} are dried and ready to be packed", n=spec.spools - missing)
            )
        lines += spool_lines(spec, parts, places=places, to=shelf)
    packaging = draw_from_store(_packaging(named), clock=clock)
    movement = post_movement(
        kind=Movement.Kind.PACK,
        lines=[*lines, *packaging.lines],
        clock=clock,
        posted_by=posted_by,
        document=_document(named),
    )
    check_left_for_carts({line.lot_id for line in lines}, but=carts)
    emptied = {line.from_place.oven_id for line in lines if line.from_place.oven_id is not None}
    close_empty_loads([row.oven for row in dried if row.oven is not None and row.oven_id in emptied], clock=clock)
    return movement


def _dried_places(*, clock: Clock) -> list[Place]:
    """The bench, and the ovens whose load is ready.

    Locks the ovens before any stock, as an oven load does, so that packing and loading wait for each other.
    """
    list(Oven.objects.order_by("id").select_for_update().values_list("pk"))
    drying = OvenLoad.objects.filter(unloaded_at__isnull=True, ready_at__gt=clock.occurred_at)
    ovens = Place.objects.filter(kind=Place.Kind.OVEN).exclude(oven__in=drying.values("oven"))
    return [place(Place.Kind.PACKING), *ovens.select_related("oven").order_by("id")]


def _packaging(named: Sequence[NamedSpools]) -> dict[Item, Decimal]:
    needs: dict[Item, Decimal] = {}
    for spec in named:
        size = spec.sku.spool_size
        for item in filter(None, (size.box_item, size.desiccant_item)):
            needs[item] = needs.get(item, Decimal(0)) + spec.spools
    return needs


def _document(named: Sequence[NamedSpools]) -> str:
    sources = sorted({spec.source for spec in named if spec.source is not None})
    return sources[0] if len(sources) == 1 else ""
