"""Oven loads. What an oven may do to a spool is the plant's own data: ranges of the material, limit of the spool."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from datetime import timedelta
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import ConflictError, InvalidInputError, NotFoundError
from inventory.models import Balance, Cart, Item, Lot, Movement, Oven, OvenLoad, Place
from inventory.rules.clock import Clock
from inventory.rules.flows import plain
from inventory.rules.texts import text
from inventory.services.allocations import lock_supply
from inventory.services.cart_stock import check_left_for_carts
from inventory.services.ledger import LineDraft, place, post_movement
from inventory.services.run_supply import calendar_from, expect_on_shelf
from inventory.services.spool_sources import (
    NamedSpools,
    SpoolSpec,
    lock_spools,
    named_spools,
    spool_lines,
    too_few_spools,
)
from inventory.services.supply import outputs_of
from inventory.services.transactions import in_one_transaction

MOST_HOURS = Decimal(240)


class OvenBusyError(ConflictError):
    """The oven holds a load that is not ready."""

    code = "oven_busy"


class OvenLimitError(InvalidInputError):
    """The load is outside what the oven, a material or an empty spool allows."""

    code = "oven_limit"


@in_one_transaction
def load_oven(
    *,
    oven_code: str,
    spools: Sequence[SpoolSpec],
    clock: Clock,
    temperature_c: int | None = None,
    hours: Decimal | None = None,
    carts: Collection[Cart] = (),
    posted_by: AbstractBaseUser | None = None,
) -> OvenLoad:
    """Load wound spools into an oven. Without figures: the oven's own temperature, the longest drying needed.

    A load before it that is ready and still inside comes out to the packing bench in the same transaction: its
    places are needed. What the loaded spools' orders were promised follows the time at which this load is ready.
    Spools on carts go in with their `carts`, the others are those that stand on none.

    Raises
    ------
    NotFoundError
        If the oven, a SKU, run or lot do not exist.
    OvenBusyError
        If the load before is not ready.
    OvenLimitError
        If temperature, hours or places do not fit; the SKU is named.
    NotEnoughStockError
        If fewer spools wait for the oven.
    OnCartError
        If what waits stands on other carts.
    """
    oven = _locked_oven(oven_code)
    named = named_spools(spools)
    degrees = oven.temperature_c if temperature_c is None else temperature_c
    needed_hours = max(spec.sku.filament.material.spool_dry_hours for spec in named)
    load_hours = needed_hours if hours is None else hours
    _check_limits(oven, named, degrees=degrees, hours=load_hours)
    _lock_inside(oven, named, clock=clock)
    _empty_ready(oven, clock=clock, posted_by=posted_by)
    load = _write_load(oven, degrees=degrees, hours=load_hours, clock=clock)
    wound = place(Place.Kind.WOUND)
    stock = lock_spools(named, places=[wound], clock=clock)
    lines: list[LineDraft] = []
    for row, spec in enumerate(named):
        parts, missing = stock.take(spec, place_ids=[wound.pk])
        if missing:
            raise too_few_spools(spec, row=row, there=text("{n} wait for the oven", n=spec.spools - missing))
        lines += spool_lines(spec, parts, places={wound.pk: wound}, to=place(Place.Kind.OVEN, oven))
    post_movement(kind=Movement.Kind.OVEN_LOAD, lines=lines, clock=clock, posted_by=posted_by, document=load.code)
    check_left_for_carts({line.lot_id for line in lines}, but=carts)
    _expect(load, lines, clock=clock)
    return load


@in_one_transaction
def unload_oven(*, oven_code: str, clock: Clock, posted_by: AbstractBaseUser | None = None) -> Movement | None:
    """Take a load that is ready out to the packing bench. None where nothing was left in the oven.

    Raises
    ------
    NotFoundError
        If the oven does not exist.
    OvenBusyError
        If it holds no load, or one that is not ready.
    """
    oven = _locked_oven(oven_code)
    if not OvenLoad.objects.filter(oven=oven, unloaded_at__isnull=True).exists():
        raise OvenBusyError("Oven {oven} holds no load.", oven=oven_code, pointer="/oven")
    return _empty_ready(oven, clock=clock, posted_by=posted_by)


def close_empty_loads(ovens: Sequence[Oven], *, clock: Clock) -> None:
    """Note the loads of these ovens as unloaded where nothing is left inside. Two queries."""
    full = Balance.objects.filter(place__oven__in=ovens, quantity__gt=0).values_list("place__oven_id", flat=True)
    open_loads = OvenLoad.objects.filter(oven__in=ovens, unloaded_at__isnull=True)
    open_loads.exclude(oven_id__in=list(full)).update(unloaded_at=clock.occurred_at)


def _locked_oven(code: str) -> Oven:
    oven = Oven.objects.select_for_update().filter(code=code).first()
    if oven is None:
        raise NotFoundError("Oven {code!r} does not exist.", code=code, pointer="/oven")
    return oven


def _check_limits(oven: Oven, named: Sequence[NamedSpools], *, degrees: int, hours: Decimal) -> None:
    if not 0 < hours <= MOST_HOURS:
        raise OvenLimitError(
            "{hours} hours: above 0 and at most {most} are allowed.", hours=hours, most=MOST_HOURS, pointer="/hours"
        )
    for row, spec in enumerate(named):
        material, code = spec.sku.filament.material, spec.sku.item.code
        low, high = material.spool_dry_min_c, min(material.spool_dry_max_c, spec.sku.spool_size.max_temp_c)
        if not low <= degrees <= high:
            raise OvenLimitError(
                "{code} dries at {low} to {high} degrees C (material {material}, spool {size}); this load has "
                "{degrees}.",
                code=code,
                low=low,
                high=high,
                material=material.code,
                size=spec.sku.spool_size.code,
                degrees=degrees,
                pointer=f"/spools/{row}",
            )
        if hours < material.spool_dry_hours:
            raise OvenLimitError(
                "{code} needs {spool_dry_hours} h; this load has {hours} h.",
                code=code,
                spool_dry_hours=plain(material.spool_dry_hours),
                hours=plain(hours),
                pointer=f"/spools/{row}",
            )
    taken = sum((spec.spools * spec.sku.spool_size.oven_places for spec in named), Decimal(0))
    if taken > oven.places:
        raise OvenLimitError(
            "The load takes {taken} places, oven {oven} has {places}.",
            taken=plain(taken),
            oven=oven.code,
            places=oven.places,
            pointer="/spools",
        )


def _lock_inside(oven: Oven, named: Sequence[NamedSpools], *, clock: Clock) -> None:
    """Lock the SKUs that come out and go in at once: one after the other could deadlock with an order."""
    inside = Balance.objects.filter(place__oven=oven, quantity__gt=0, item__kind=Item.Kind.SKU)
    lock_supply(sku_ids={*inside.values_list("item_id", flat=True), *(spec.sku.pk for spec in named)}, clock=clock)


def _empty_ready(oven: Oven, *, clock: Clock, posted_by: AbstractBaseUser | None) -> Movement | None:
    """Bring what is ready in the oven to the packing bench."""
    load = OvenLoad.objects.select_for_update().filter(oven=oven, unloaded_at__isnull=True).first()
    if load is not None and load.ready_at > clock.occurred_at:
        raise OvenBusyError(
            "Oven {oven} holds load {load} until {ready_at}.",
            oven=oven.code,
            load=load.code,
            ready_at=load.ready_at,
            pointer="/oven",
        )
    inside, bench = place(Place.Kind.OVEN, oven), place(Place.Kind.PACKING)
    left = Balance.objects.filter(place=inside, quantity__gt=0).order_by("lot_id")
    lines = [LineDraft(row.item_id, row.lot_id, row.quantity, inside, bench) for row in left]
    movement = None
    if lines:
        movement = post_movement(
            kind=Movement.Kind.OVEN_UNLOAD,
            lines=lines,
            clock=clock,
            posted_by=posted_by,
            document="" if load is None else load.code,
        )
    close_empty_loads([oven], clock=clock)
    return movement


def _write_load(oven: Oven, *, degrees: int, hours: Decimal, clock: Clock) -> OvenLoad:
    load = OvenLoad.objects.create(
        code=uuid.uuid4().hex,
        oven=oven,
        loaded_at=clock.occurred_at,
        known_at=clock.known_at,
        temperature_c=degrees,
        hours=hours,
        ready_at=clock.occurred_at + timedelta(hours=float(hours)),
    )
    load.code = f"O{load.pk:06d}"
    load.save(update_fields=["code"])
    return load


def _expect(load: OvenLoad, lines: Sequence[LineDraft], *, clock: Clock) -> None:
    """Move the shelf day of outputs that are now drying as a whole.

    While a part of an output still waits for a later load, its expected time stays that of the part that waits.
    """
    lot_ids = {line.lot_id for line in lines}
    waiting = Balance.objects.filter(place__kind=Place.Kind.WOUND, lot_id__in=lot_ids, quantity__gt=0)
    loaded = lot_ids - set(waiting.values_list("lot_id", flat=True))
    calendar = calendar_from(load.ready_at)
    shelf_at = calendar.shelf_at(load.ready_at, dry_h=0)
    lots = Lot.objects.filter(pk__in=loaded, run__isnull=False).values_list("run_id", "item_id")
    outputs = outputs_of((run_id, sku_id) for run_id, sku_id in lots if run_id is not None)
    expect_on_shelf(
        outputs.values(),
        shelf_at=shelf_at,
        shelf_day=calendar.first_ship_day(shelf_at),
        clock=clock,
        cause=f"oven load {load.code}",
    )
