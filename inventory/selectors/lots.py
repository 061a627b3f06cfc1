"""Lots traced both ways: from what a customer got back to the resin, and from a delivery forward to customers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum

from inventory.errors import NotFoundError
from inventory.models import Item, Lot, Movement, MovementLine, Place, Run
from inventory.rules.flows import unknown_lot_code

# How spools come into the books.
ORIGINS = (Movement.Kind.RUN_OUTPUT, Movement.Kind.OPENING)


@dataclass(frozen=True)
class MaterialLot:
    """What a run drew of a lot. Of unknown origin: the books had too little when it was used."""

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
    is_held: bool


@dataclass(frozen=True)
class LotAtPlace:
    """What of a lot lies at a place, in the plant or (the place is not physical) out of it, in the item's unit."""

    lot_code: str
    item_code: str
    unit: str
    place_code: str
    is_in_plant: bool
    quantity: Decimal


@dataclass(frozen=True)
class Delivery:
    """Spools of a lot that left with an order."""

    order_id: int
    channel_code: str
    reference: str
    ship_to: str
    shipment_id: int
    ship_day: date
    lot_code: str
    quantity: Decimal


@dataclass(frozen=True)
class Trace:
    """Lots of spools, the material in them, where they lie and who got them.

    Of an order or a shipment `spools` counts what left with it; of a lot or a run, what was wound of it. `unexplained`
    is there for a lot of material only: what runs drew of the same material from no known lot, since this one came,
    as the books had too little. It may be of this lot.
    """

    spools: tuple[SpoolLot, ...]
    materials: tuple[MaterialLot, ...]
    places: tuple[LotAtPlace, ...]
    delivered: tuple[Delivery, ...]
    unexplained: tuple[MaterialLot, ...] = ()

    @property
    def runs(self) -> tuple[str, ...]:
        """The runs between spools and material, in the order of their codes."""
        spools = {row.run_code for row in self.spools if row.run_code is not None}
        return tuple(sorted(spools | {row.run_code for row in self.materials}))


def trace_order(order_id: int, *, as_of: datetime | None = None) -> Trace:
    """Trace what left with an order. Six queries; nothing of an order that is not there."""
    return _trace_shipped(Q(shipment_line__shipment__order_id=order_id), as_of=as_of)


def trace_shipment(shipment_id: int, *, as_of: datetime | None = None) -> Trace:
    """Trace what left with a shipment. Six queries; nothing of a shipment that is not there."""
    return _trace_shipped(Q(shipment_line__shipment_id=shipment_id), as_of=as_of)


def trace_run(run_code: str, *, as_of: datetime | None = None) -> Trace:
    """Trace all that a run wound, back to its material and forward to its customers. Seven queries.

    Raises
    ------
    NotFoundError
        If there is no such run.
    """
    run = Run.objects.filter(code=run_code).first()
    if run is None:
        raise NotFoundError("There is no run {run!r}.", run=run_code)
    known = _known(as_of)
    return _trace_wound(_lots_of({run.pk}), _materials(known.filter(movement__run=run)), known)


def trace_lot(lot_code: str, *, as_of: datetime | None = None) -> Trace:
    """Trace a lot of spools to its material and its customers, or a lot of material to its runs and customers.

    Of a lot of material only what the runs drew of it is told, and of the runs all that they wound. Nine queries.

    Raises
    ------
    NotFoundError
        If there is no such lot.
    """
    start = Lot.objects.select_related("item", "run").filter(code=lot_code).first()
    if start is None:
        raise NotFoundError("There is no lot {lot!r}.", lot=lot_code)
    known = _known(as_of)
    if start.item.kind == Item.Kind.SKU:
        materials = _materials(known.filter(movement__run=start.run_id)) if start.run_id else ()
        return _trace_wound([start], materials, known)
    drawn = known.filter(lot=start, movement__kind=Movement.Kind.RUN_CONSUMPTION)
    wound = _lots_of(set(drawn.filter(movement__run__isnull=False).values_list("movement__run__pk", flat=True)))
    return _trace_wound(wound, _materials(drawn), known, of_material=start)


def _trace_wound(
    lots: Sequence[Lot],
    materials: tuple[MaterialLot, ...],
    known: QuerySet[MovementLine],
    *,
    of_material: Lot | None = None,
) -> Trace:
    wound = known.filter(lot__in=lots, movement__kind__in=ORIGINS)
    return Trace(
        spools=_spools(lots, wound),
        materials=materials,
        places=_places(lots if of_material is None else [of_material, *lots], known),
        delivered=_delivered(lots, known),
        unexplained=() if of_material is None else _unexplained(of_material, known),
    )


def _lots_of(run_ids: Collection[int]) -> list[Lot]:
    return list(Lot.objects.filter(run_id__in=run_ids).select_related("item", "run").order_by("code"))


def _unexplained(lot: Lot, known: QuerySet[MovementLine]) -> tuple[MaterialLot, ...]:
    code = unknown_lot_code(lot.item.code)
    if code == lot.code:
        return ()
    return _materials(known.filter(lot__code=code, movement__occurred_at__gte=lot.created_at))


def _trace_shipped(shipped_with: Q, *, as_of: datetime | None) -> Trace:
    known = _known(as_of)
    shipped = known.filter(shipped_with)
    lots = list(Lot.objects.filter(pk__in=shipped.values("lot")).select_related("item", "run").order_by("code"))
    runs = {lot.run_id for lot in lots if lot.run_id is not None}
    return Trace(
        spools=_spools(lots, shipped),
        materials=_materials(known.filter(movement__run__in=runs)),
        places=_places(lots, known),
        delivered=_delivered(lots, known),
    )


def _known(as_of: datetime | None) -> QuerySet[MovementLine]:
    lines = MovementLine.objects.order_by("id")
    return lines if as_of is None else lines.filter(movement__known_at__lte=as_of)


def _spools(lots: Sequence[Lot], lines: QuerySet[MovementLine]) -> tuple[SpoolLot, ...]:
    quantities: Mapping[int, Decimal] = dict(lines.values_list("lot_id").order_by().annotate(Sum("quantity")))
    return tuple(
        SpoolLot(
            lot_code=lot.code,
            sku_code=lot.item.code,
            run_code=None if lot.run is None else lot.run.code,
            quantity=quantities.get(lot.pk, Decimal(0)),
            is_held=lot.is_held,
        )
        for lot in lots
    )


def _materials(lines: QuerySet[MovementLine]) -> tuple[MaterialLot, ...]:
    drawn = lines.filter(movement__kind=Movement.Kind.RUN_CONSUMPTION)
    rows = drawn.values_list("lot__code", "item__code", "lot__supplier_lot", "movement__run__code")
    rows_with_sums = rows.annotate(sum=Sum("quantity")).order_by("movement__run__code", "lot__code")
    return tuple(
        MaterialLot(lot_code=lot, item_code=item, supplier_lot=supplier, quantity=quantity, run_code=run or "")
        for lot, item, supplier, run, quantity in rows_with_sums
    )


def _places(lots: Collection[Lot], lines: QuerySet[MovementLine]) -> tuple[LotAtPlace, ...]:
    """Where the lots lie. What became part of spools is nowhere any more."""
    rows = Place.objects.exclude(kind=Place.Kind.CONVERSION).values_list("pk", "code", "is_physical")
    places = {pk: (code, is_physical) for pk, code, is_physical in rows}
    sums: dict[tuple[str, str, str, str, bool], Decimal] = defaultdict(Decimal)
    named = {lot.pk: (lot.code, lot.item.code, lot.item.unit) for lot in lots}
    moved = lines.filter(lot__in=list(named))
    for lot_id, source, target, quantity in moved.values_list("lot_id", "from_place_id", "to_place_id", "quantity"):
        for place_id, delta in ((source, -quantity), (target, quantity)):
            if place_id in places:
                sums[(*named[lot_id], *places[place_id])] += delta
    return tuple(LotAtPlace(*key, quantity) for key, quantity in sorted(sums.items()) if quantity > 0)


def _delivered(lots: Sequence[Lot], lines: QuerySet[MovementLine]) -> tuple[Delivery, ...]:
    left = lines.filter(lot__in=lots, shipment_line__isnull=False)
    rows = left.values_list(
        "shipment_line__shipment__order_id",
        "shipment_line__shipment__order__channel__code",
        "shipment_line__shipment__order__reference",
        "shipment_line__shipment__order__ship_to",
        "shipment_line__shipment_id",
        "shipment_line__shipment__ship_day",
        "lot__code",
        "quantity",
    )
    return tuple(Delivery(*row) for row in rows)
