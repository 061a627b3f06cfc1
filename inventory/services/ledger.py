"""Posting to the ledger: the one way in which stock changes.

Lock order of every transaction that posts, which is why two of them wait and never deadlock: the document (order,
run, line, oven), then ShelfStock rows by SKU id, then RunOutput rows by id, then Lot, then Balance rows by place and
lot. The
ShelfStock row is the mutex of its SKU: a movement of spools takes it even where the shelf is not touched.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser
from django.utils import translation

from inventory.errors import ConflictError, InvalidInputError, NotFoundError
from inventory.models import Item, Lot, Movement, MovementLine, Place, Run, ShipmentLine
from inventory.rules.clock import Clock
from inventory.rules.flows import quantity_fault, way_fault
from inventory.rules.texts import Text, text
from inventory.services.allocations import lock_supply
from inventory.services.balances import BalanceChange, NotEnoughStockError, apply_changes
from inventory.services.places import ensure_places, place
from inventory.services.supply import SupplyEffect, apply_supply
from inventory.services.texts import check_length
from inventory.services.transactions import in_one_transaction

__all__ = [
    "LineDraft",
    "LotHeldError",
    "NotEnoughStockError",
    "ensure_places",
    "place",
    "post_movement",
    "reverse_movement",
]

MAX_REASON_LENGTH = 200
MAX_DOCUMENT_LENGTH = 80


class LotHeldError(ConflictError):
    """A held lot cannot go to the shelf or to a customer."""

    code = "lot_held"


class NotReversibleError(ConflictError):
    """The movement belongs to a document that must be undone as a whole, or was reversed before."""

    code = "not_reversible"


@dataclass(frozen=True)
class LineDraft:
    """One quantity of one lot on its way from one place to another."""

    item_id: int
    lot_id: int
    quantity: Decimal
    from_place: Place
    to_place: Place
    shipment_line: ShipmentLine | None = None


@in_one_transaction
def post_movement(
    *,
    kind: Movement.Kind,
    lines: Sequence[LineDraft],
    clock: Clock,
    posted_by: AbstractBaseUser | None = None,
    reason: str = "",
    document: str = "",
    run: Run | None = None,
    reverses: Movement | None = None,
) -> Movement:
    """Write one movement, its balances and what it does to promised supply.

    About fifteen queries, whatever the number of lines, plus those of promises that have to move.

    Raises
    ------
    InvalidInputError
        If there is no line, a quantity or a way is wrong, or the lot is not of the item.
    NotFoundError
        If a lot does not exist.
    NotEnoughStockError
        If a physical place would be below zero, now or at any instant since `clock.occurred_at`.
    LotHeldError
        If spools of a held lot would go to the shelf.
    """
    lots = _lots(lines)
    for number, line in enumerate(lines):
        _check_line(line, kind=kind, lot=lots[line.lot_id], pointer=f"/lines/{number}")
    check_length("reason", reason, most=MAX_REASON_LENGTH)
    check_length("document", document, most=MAX_DOCUMENT_LENGTH)
    sku_ids = {lot.item_id for lot in lots.values() if lot.item.kind == Item.Kind.SKU}
    supply = lock_supply(sku_ids=sku_ids, clock=clock) if sku_ids else None
    _refuse_held(lines)
    apply_changes(_net_changes(lines, lots), clock=clock)
    movement = Movement.objects.create(
        kind=kind,
        occurred_at=clock.occurred_at,
        known_at=clock.known_at,
        posted_by_id=posted_by.pk if posted_by is not None else None,
        reason=reason,
        document=document,
        run=run,
        reverses=reverses,
    )
    _write_lines(movement, lines)
    if supply is not None:
        effect = _supply_effect(lines, lots, kind=kind)
        # What the books keep is in English, whoever posts it.
        with translation.override("en"):
            cause = reason or str(Movement.Kind(kind).label)
        apply_supply(effect, supply=supply, clock=clock, cause=cause)
    return movement


@in_one_transaction
def reverse_movement(
    *, movement_id: int, clock: Clock, posted_by: AbstractBaseUser | None = None, reason: str
) -> Movement:
    """Take back a movement by a new one with its lines mirrored. The wrong one stays readable for ever.

    Raises
    ------
    NotFoundError
        If there is no such movement.
    NotReversibleError
        If it is itself a reversal, was reversed before, or belongs to a shipment, a run or a hold, which carry
        state of their own.
    NotEnoughStockError
        If what it brought in has been used since.
    """
    movement = Movement.objects.select_for_update().filter(pk=movement_id).first()
    if movement is None:
        raise NotFoundError("Movement {movement_id} does not exist.", movement_id=movement_id, pointer="/movement_id")
    _check_reversible(movement, clock=clock)
    mirrored = [
        LineDraft(line.item_id, line.lot_id, line.quantity, from_place=line.to_place, to_place=line.from_place)
        for line in movement.lines.select_related("from_place", "to_place")
    ]
    return post_movement(
        kind=Movement.Kind.REVERSAL,
        lines=mirrored,
        clock=clock,
        posted_by=posted_by,
        reason=reason,
        document=movement.document,
        run=movement.run,
        reverses=movement,
    )


# What undoes these instead: a return, a count or scrap of what the run made, a release.
_OWN_STATE: Mapping[str, Text] = {
    Movement.Kind.SHIPMENT: text("post the spools that came back as a return instead"),
    Movement.Kind.RUN_CONSUMPTION: text("count the material instead"),
    Movement.Kind.RUN_OUTPUT: text("count or scrap the spools instead"),
    Movement.Kind.OVEN_LOAD: text("unload the oven instead"),
    Movement.Kind.HOLD: text("release the lot instead"),
    Movement.Kind.HOLD_RELEASE: text("hold the lot again instead"),
    Movement.Kind.REVERSAL: text("post the original movement again instead"),
}


def _check_reversible(movement: Movement, *, clock: Clock) -> None:
    if instead := _OWN_STATE.get(movement.kind):
        raise NotReversibleError(
            "Movement {movement} ({kind}) cannot be reversed; {instead}.",
            movement=movement.pk,
            kind=movement.get_kind_display(),
            instead=instead,
        )
    if Movement.objects.filter(reverses=movement).exists():
        raise NotReversibleError("Movement {movement} has been reversed already.", movement=movement.pk)
    if clock.occurred_at < movement.occurred_at:
        raise InvalidInputError(
            "A reversal at {occurred_at} is before its movement at {before}.",
            occurred_at=clock.occurred_at,
            before=movement.occurred_at,
            pointer="/occurred_at",
        )


def _lots(lines: Sequence[LineDraft]) -> dict[int, Lot]:
    if not lines:
        raise InvalidInputError("A movement needs at least one line.", pointer="/lines")
    lots = Lot.objects.select_related("item").in_bulk({line.lot_id for line in lines})
    for number, line in enumerate(lines):
        if line.lot_id not in lots:
            raise NotFoundError("Lot {lot_id} does not exist.", lot_id=line.lot_id, pointer=f"/lines/{number}/lot")
    return lots


def _check_line(line: LineDraft, *, kind: str, lot: Lot, pointer: str) -> None:
    if lot.item_id != line.item_id:
        raise InvalidInputError(
            "Lot {lot} is of {item}, not of the item named.",
            lot=lot.code,
            item=lot.item.code,
            pointer=pointer,
        )
    if fault := quantity_fault(line.quantity, unit=lot.item.unit):
        raise InvalidInputError("{item}: {fault}", item=lot.item.code, fault=fault, pointer=f"{pointer}/quantity")
    if fault := way_fault(kind, line.from_place.kind, line.to_place.kind):
        raise InvalidInputError("{item}: {fault}", item=lot.item.code, fault=fault, pointer=pointer)
    if line.to_place.kind == Place.Kind.SHELF and lot.item.kind != Item.Kind.SKU:
        raise InvalidInputError(
            "{item} is {kind}; only SKUs go to the shelf.",
            item=lot.item.code,
            kind=lot.item.get_kind_display(),
            pointer=pointer,
        )


def _refuse_held(lines: Sequence[LineDraft]) -> None:
    """Under the lock of the SKUs: a hold that was posted meanwhile is seen."""
    shelved = {line.lot_id for line in lines if line.to_place.kind == Place.Kind.SHELF}
    held = Lot.objects.filter(pk__in=shelved, is_held=True).order_by("code").first() if shelved else None
    if held is not None:
        raise LotHeldError("Lot {held} is held for quality; release it first.", held=held.code, pointer="/lot")


def _net_changes(lines: Sequence[LineDraft], lots: Mapping[int, Lot]) -> list[BalanceChange]:
    """One change per place and lot; a movement takes effect as a whole."""
    places: dict[int, Place] = {}
    deltas: dict[tuple[int, int], Decimal] = defaultdict(Decimal)
    for line in lines:
        for where, delta in ((line.from_place, -line.quantity), (line.to_place, line.quantity)):
            places[where.pk] = where
            deltas[(where.pk, line.lot_id)] += delta
    return [BalanceChange(places[key[0]], lots[key[1]], delta) for key, delta in deltas.items()]


def _write_lines(movement: Movement, lines: Sequence[LineDraft]) -> None:
    MovementLine.objects.bulk_create(
        MovementLine(
            movement=movement,
            item_id=line.item_id,
            lot_id=line.lot_id,
            quantity=line.quantity,
            from_place=line.from_place,
            to_place=line.to_place,
            shipment_line=line.shipment_line,
        )
        for line in lines
    )


def _supply_effect(lines: Sequence[LineDraft], lots: Mapping[int, Lot], *, kind: str) -> SupplyEffect:
    effect = SupplyEffect()
    for line in lines:
        lot = lots[line.lot_id]
        if lot.item.kind == Item.Kind.SKU:
            effect.add(kind=kind, lot=lot, spools=int(line.quantity), source=line.from_place, target=line.to_place)
    return effect
