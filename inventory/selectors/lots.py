"""Lots traced both ways: from what a customer got back to the resin, and from a delivery forward to customers."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from inventory.errors import NotFoundError
from inventory.models import Balance, Item, Lot, Movement, MovementLine, Order

# How spools come into the books.
ORIGINS = (Movement.Kind.RUN_OUTPUT, Movement.Kind.OPENING)


@dataclass(frozen=True)
class MaterialLot:
    """A lot that a run drew on. Of unknown origin: the books had too little when it was used."""

    lot_code: str
    item_code: str
    supplier_lot: str
    quantity: Decimal
    run_code: str


@dataclass(frozen=True)
class SpoolLot:
    """A lot of spools, the run that wound it (None: from before the books) and how many are meant."""

    lot_code: str
    sku_code: str
    run_code: str | None
    quantity: Decimal


@dataclass(frozen=True)
class BackTrace:
    """Where spools came from."""

    spools: tuple[SpoolLot, ...]
    materials: tuple[MaterialLot, ...]


@dataclass(frozen=True)
class WhereNow:
    """What of a lot lies at a place."""

    lot_code: str
    place: str
    quantity: Decimal


@dataclass(frozen=True)
class Delivered:
    """Spools of a lot that left with an order."""

    order_id: int
    reference: str
    channel_code: str
    lot_code: str
    quantity: Decimal


@dataclass(frozen=True)
class ForwardTrace:
    """What became of a lot of material or of spools."""

    lot_code: str
    runs: tuple[str, ...]
    spools: tuple[SpoolLot, ...]
    where_now: tuple[WhereNow, ...]
    delivered: tuple[Delivered, ...]


def trace_back_order(*, order_id: int) -> BackTrace:
    """Trace what was shipped on an order to the lots of material that its runs drew on. Four queries.

    Raises
    ------
    NotFoundError
        If there is no such order.
    """
    if not Order.objects.filter(pk=order_id).exists():
        raise NotFoundError(f"Order {order_id} does not exist.", pointer="/order")
    lines = MovementLine.objects.filter(shipment_line__shipment__order_id=order_id, movement__reversed_by__isnull=True)
    shipped = dict(lines.values_list("lot_id").order_by().annotate(Sum("quantity")))
    return _back(Lot.objects.filter(pk__in=shipped).select_related("item", "run").order_by("code"), shipped)


def trace_back_lot(*, lot_code: str) -> BackTrace:
    """Trace a lot of spools to the lots of material that its run drew on. Three queries.

    Raises
    ------
    NotFoundError
        If there is no such lot of spools.
    """
    lot = Lot.objects.select_related("item", "run").filter(code=lot_code, item__kind=Item.Kind.SKU).first()
    if lot is None:
        raise NotFoundError(f"Lot {lot_code!r} of spools does not exist.", pointer="/lot")
    wound = MovementLine.objects.filter(lot=lot, movement__kind__in=ORIGINS)
    total = wound.aggregate(sum=Sum("quantity"))["sum"] or Decimal(0)
    return _back([lot], {lot.pk: total})


def _back(lots: Collection[Lot], quantities: dict[int, Decimal]) -> BackTrace:
    spools = tuple(
        SpoolLot(lot.code, lot.item.code, None if lot.run is None else lot.run.code, quantities[lot.pk]) for lot in lots
    )
    runs = {lot.run_id for lot in lots if lot.run_id is not None}
    drawn = MovementLine.objects.filter(movement__run_id__in=runs, movement__kind=Movement.Kind.RUN_CONSUMPTION)
    rows = drawn.values_list("lot__code", "item__code", "lot__supplier_lot", "movement__run__code")
    rows_with_sums = rows.annotate(sum=Sum("quantity")).order_by("movement__run_id", "lot__code")
    materials = tuple(
        MaterialLot(lot_code=lot, item_code=item, supplier_lot=supplier, quantity=quantity, run_code=run or "")
        for lot, item, supplier, run, quantity in rows_with_sums
    )
    return BackTrace(spools=spools, materials=materials)


def trace_forward(*, lot_code: str) -> ForwardTrace:
    """Trace a lot to the runs that drew on it, their spools, where these lie and who got them. Five queries.

    Of a lot of spools: where it lies and who got it.

    Raises
    ------
    NotFoundError
        If there is no such lot.
    """
    start = Lot.objects.select_related("item", "run").filter(code=lot_code).first()
    if start is None:
        raise NotFoundError(f"Lot {lot_code!r} does not exist.", pointer="/lot")
    is_spools = start.item.kind == Item.Kind.SKU
    drawn = MovementLine.objects.filter(lot=start, movement__kind=Movement.Kind.RUN_CONSUMPTION)
    runs = dict(drawn.values_list("movement__run_id", "movement__run__code").order_by("movement__run_id"))
    lots = [start] if is_spools else list(Lot.objects.filter(run_id__in=runs).select_related("item", "run"))
    return ForwardTrace(
        lot_code=lot_code,
        runs=tuple(code for code in runs.values() if code is not None),
        spools=_spools(lots),
        where_now=_where_now([start, *lots]),
        delivered=_delivered(lots),
    )


def _spools(lots: Sequence[Lot]) -> tuple[SpoolLot, ...]:
    wound = MovementLine.objects.filter(
        lot__in=lots, movement__kind__in=[Movement.Kind.RUN_OUTPUT, Movement.Kind.OPENING]
    )
    quantities = dict(wound.values_list("lot_id").order_by().annotate(Sum("quantity")))
    return tuple(
        SpoolLot(lot.code, lot.item.code, None if lot.run is None else lot.run.code, quantities.get(lot.pk, Decimal(0)))
        for lot in sorted(lots, key=lambda lot: lot.code)
    )


def _where_now(lots: Sequence[Lot]) -> tuple[WhereNow, ...]:
    rows = Balance.objects.filter(lot__in=lots, quantity__gt=0).exclude(place__kind="conversion")
    rows = rows.select_related("lot", "place").order_by("lot__code", "place__code")
    return tuple(WhereNow(row.lot.code, row.place.get_kind_display(), row.quantity) for row in rows)


def _delivered(lots: Sequence[Lot]) -> tuple[Delivered, ...]:
    lines = MovementLine.objects.filter(lot__in=lots, shipment_line__isnull=False).order_by("id")
    lines = lines.select_related("lot", "shipment_line__shipment__order__channel")
    found = []
    for line in lines:
        if line.shipment_line is not None:
            order = line.shipment_line.shipment.order
            found.append(Delivered(order.pk, order.reference, order.channel.code, line.lot.code, line.quantity))
    return tuple(found)
