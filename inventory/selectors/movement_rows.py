"""Movements, lots and oven loads as rows: what a report of the floor changed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import QuerySet

from inventory.errors import NotFoundError
from inventory.models import Lot, Movement, MovementLine, OvenLoad

LINE_FIELDS = ("item__code", "lot__code", "quantity", "from_place__code", "to_place__code")
# What people report of store and shelf; runs, ovens, packing and shipments have their own pages.
REPORTED = (
    Movement.Kind.RECEIPT,
    Movement.Kind.COUNT,
    Movement.Kind.SCRAP,
    Movement.Kind.OWN_USE,
    Movement.Kind.SAMPLE,
    Movement.Kind.RETURN,
    Movement.Kind.RESTOCK,
    Movement.Kind.HOLD,
    Movement.Kind.HOLD_RELEASE,
)


@dataclass(frozen=True)
class MovementLineRow:
    """One quantity of one lot on its way."""

    item_code: str
    lot_code: str
    quantity: Decimal
    from_place: str
    to_place: str


@dataclass(frozen=True)
class MovementRow:
    """One movement with its lines."""

    id: int
    kind: str
    kind_label: str
    occurred_at: datetime
    known_at: datetime
    reason: str
    document: str
    lines: tuple[MovementLineRow, ...]


@dataclass(frozen=True)
class LotPlaceRow:
    """What of a lot is at one physical place."""

    place_code: str
    quantity: Decimal


@dataclass(frozen=True)
class LotRow:
    """One lot, and where what is left of it is."""

    code: str
    item_code: str
    supplier_lot: str
    run_code: str | None
    is_held: bool
    places: tuple[LotPlaceRow, ...]


@dataclass(frozen=True)
class OvenLoadRow:
    """One load of an oven with its spools."""

    code: str
    oven_code: str
    loaded_at: datetime
    ready_at: datetime
    temperature_c: int
    hours: Decimal
    spools: tuple[MovementLineRow, ...]


def movement_row(movement: Movement) -> MovementRow:
    """Return what a movement moved. One query."""
    return _row(movement, _lines(MovementLine.objects.filter(movement=movement)))


def latest_reports(*, limit: int) -> list[MovementRow]:
    """Return the last movements that people reported of store and shelf, the newest first. Two queries."""
    newest = list(Movement.objects.filter(kind__in=REPORTED).order_by("-id")[:limit])
    lines: dict[int, list[MovementLineRow]] = defaultdict(list)
    fields = ("movement_id", *LINE_FIELDS)
    for movement_id, *row in MovementLine.objects.filter(movement__in=newest).order_by("id").values_list(*fields):
        lines[movement_id].append(MovementLineRow(*row))
    return [_row(movement, tuple(lines[movement.pk])) for movement in newest]


def lot_row(code: str) -> LotRow:
    """Return one lot. Two queries.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    lot = Lot.objects.select_related("item", "run").filter(code=code).first()
    if lot is None:
        raise NotFoundError("There is no lot {code!r}.", code=code)
    held = lot.balances.filter(is_physical=True, quantity__gt=0).order_by("place__code")
    return LotRow(
        code=lot.code,
        item_code=lot.item.code,
        supplier_lot=lot.supplier_lot,
        run_code=lot.run.code if lot.run else None,
        is_held=lot.is_held,
        places=tuple(LotPlaceRow(*row) for row in held.values_list("place__code", "quantity")),
    )


def oven_load_row(load: OvenLoad) -> OvenLoadRow:
    """Return one oven load. Two queries; a third one where the oven was not read with it."""
    # Movements first: asked for both at once, a database may go through all lines for each movement.
    movements = list(Movement.objects.filter(kind=Movement.Kind.OVEN_LOAD, document=load.code))
    lines = MovementLine.objects.filter(movement__in=movements)
    return OvenLoadRow(
        code=load.code,
        oven_code=load.oven.code,
        loaded_at=load.loaded_at,
        ready_at=load.ready_at,
        temperature_c=load.temperature_c,
        hours=load.hours,
        spools=_lines(lines),
    )


def _row(movement: Movement, lines: tuple[MovementLineRow, ...]) -> MovementRow:
    return MovementRow(
        id=movement.pk,
        kind=movement.kind,
        kind_label=str(movement.get_kind_display()),
        occurred_at=movement.occurred_at,
        known_at=movement.known_at,
        reason=movement.reason,
        document=movement.document,
        lines=lines,
    )


def _lines(lines: QuerySet[MovementLine]) -> tuple[MovementLineRow, ...]:
    return tuple(MovementLineRow(*row) for row in lines.order_by("id").values_list(*LINE_FIELDS))
