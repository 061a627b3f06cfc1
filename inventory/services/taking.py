"""Taking stock of an item out of a place: from the oldest lots, or from the lot that is named."""

from __future__ import annotations

from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import InvalidInputError
from inventory.models import Item, Movement, Place
from inventory.rules.clock import Clock
from inventory.rules.fifo import take_fifo
from inventory.rules.flows import ONE_OF_A_KIND, plain, quantity_fault
from inventory.rules.texts import text
from inventory.services.allocations import lock_supply
from inventory.services.balances import lock_lots
from inventory.services.ledger import LineDraft, NotEnoughStockError, place, post_movement
from inventory.services.lookup import lot_by_code
from inventory.services.transactions import in_one_transaction


def physical_place(kind: str, *, pointer: str = "/place") -> Place:
    """Return the one physical place of a kind.

    Raises
    ------
    InvalidInputError
        If the kind is not physical, or is an oven, of which there are several: unload it first.
    """
    if kind not in ONE_OF_A_KIND:
        raise InvalidInputError(
            "Place {kind!r} must be one of {places}.",
            kind=kind,
            places=", ".join(sorted(ONE_OF_A_KIND)),
            pointer=pointer,
        )
    return place(kind)


def lock_item(item: Item, *, clock: Clock) -> None:
    """Lock the supply of a SKU before its balances are read, in the order that ledger.py states."""
    if item.kind == Item.Kind.SKU:
        lock_supply(sku_ids=[item.pk], clock=clock)


@in_one_transaction
def take_stock(
    *,
    kind: Movement.Kind,
    item: Item,
    quantity: Decimal,
    source: Place,
    target_kind: str,
    lot_code: str | None,
    clock: Clock,
    posted_by: AbstractBaseUser | None,
    reason: str,
    document: str = "",
) -> Movement:
    """Post a movement of one item between two places, oldest lot first or from one lot.

    Raises
    ------
    InvalidInputError
        If the quantity is wrong.
    NotFoundError
        If the lot does not exist or is of another item.
    NotEnoughStockError
        If the place holds too little, then or since.
    """
    if fault := quantity_fault(quantity, unit=item.unit):
        raise InvalidInputError("{item}: {fault}", item=item.code, fault=fault, pointer="/quantity")
    lock_item(item, clock=clock)
    lot = None if lot_code is None else lot_by_code(lot_code, item=item)
    stock = lock_lots(item_ids=[item.pk], places=[source], clock=clock, lot_id=lot.pk if lot else None)
    take = take_fifo(stock.get(item.pk, []), quantity)
    if take.shortfall > 0:
        where = source.get_kind_display()
        raise NotEnoughStockError(
            "{item} at {where}: {quantity} asked for, {possible} can be taken at {occurred_at}.",
            item=item.code,
            where=where if lot_code is None else text("{place} in lot {lot}", place=where, lot=lot_code),
            quantity=plain(quantity),
            possible=plain(quantity - take.shortfall),
            occurred_at=clock.occurred_at,
            pointer="/quantity",
        )
    target = place(target_kind)
    lines = [LineDraft(item.pk, part.lot_id, part.quantity, source, target) for part in take.parts]
    return post_movement(kind=kind, lines=lines, clock=clock, posted_by=posted_by, reason=reason, document=document)
