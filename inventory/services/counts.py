"""Counts: what lies there is true, and the books follow."""

from __future__ import annotations

from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser
from django.db.models import Q, Sum

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import Balance, Item, Lot, Movement, MovementLine, Place
from inventory.rules.clock import Clock
from inventory.rules.fifo import take_fifo
from inventory.rules.flows import plain, quantity_fault
from inventory.services.balances import lock_lots
from inventory.services.ledger import LineDraft, place, post_movement
from inventory.services.lookup import item_by_code, lot_by_code, sku_item_by_code
from inventory.services.taking import lock_item, physical_place
from inventory.services.transactions import in_one_transaction
from inventory.services.unknown_lots import unknown_lots


class CountContradictedError(ConflictError):
    """A past count finds less than left the place after it."""

    code = "count_contradicted"


@in_one_transaction
def post_count(
    *,
    place_kind: str,
    counted: Decimal,
    clock: Clock,
    sku_code: str | None = None,
    item_code: str | None = None,
    lot_code: str | None = None,
    posted_by: AbstractBaseUser | None = None,
    reason: str = "",
    document: str = "",
) -> Movement | None:
    """Bring the books to what was counted of one item (or one lot of it) at one place.

    The count is compared with the books at the instant of the count, so a count sheet may be posted later.
    What is missing leaves the oldest lots, and what was promised of it is promised anew: latest due first. What
    was found joins the lot that is named, else the only lot that lies there, else the lot of unknown origin.

    Returns
    -------
    Movement or None
        None where the books were right.

    Raises
    ------
    InvalidInputError
        If not exactly one of `sku_code` and `item_code` is given, or place or quantity are wrong.
    NotFoundError
        If item or lot do not exist.
    CountContradictedError
        If more left the place after the count than was counted.
    """
    item = _item(sku_code, item_code)
    if counted != 0 and (fault := quantity_fault(counted, unit=item.unit)):
        raise InvalidInputError("{item}: {fault}", item=item.code, fault=fault, pointer="/counted")
    where = physical_place(place_kind)
    if where.kind == Place.Kind.SHELF and item.kind != Item.Kind.SKU:
        raise InvalidInputError(
            "{item} is {kind}; only SKUs lie on the shelf.",
            item=item.code,
            kind=item.get_kind_display(),
            pointer="/place",
        )
    lock_item(item, clock=clock)
    lot = None if lot_code is None else lot_by_code(lot_code, item=item)
    difference = counted - book_quantity(item=item, where=where, lot=lot, clock=clock)
    if difference == 0:
        return None
    if difference > 0:
        lines = [_found(item=item, where=where, lot=lot, found=difference, clock=clock)]
    else:
        lines = _missing(item=item, where=where, lot=lot, missing=-difference, clock=clock)
    return post_movement(
        kind=Movement.Kind.COUNT, lines=lines, clock=clock, posted_by=posted_by, reason=reason, document=document
    )


def _item(sku_code: str | None, item_code: str | None) -> Item:
    if sku_code is not None and item_code is None:
        return sku_item_by_code(sku_code)
    if item_code is not None and sku_code is None:
        return item_by_code(item_code)
    raise InvalidInputError("A count names either a SKU or an item.", pointer="/sku")


def book_quantity(*, item: Item, where: Place, lot: Lot | None, clock: Clock) -> Decimal:
    """Return what the books say lay there at the instant of a count. Two queries."""
    of_lot = Q(item=item) if lot is None else Q(lot=lot)
    now = Balance.objects.filter(of_lot, place=where).aggregate(sum=Sum("quantity"))["sum"] or Decimal(0)
    later = MovementLine.objects.filter(of_lot, movement__occurred_at__gt=clock.occurred_at)
    came_in = later.filter(to_place=where).aggregate(sum=Sum("quantity"))["sum"] or Decimal(0)
    left = later.filter(from_place=where).aggregate(sum=Sum("quantity"))["sum"] or Decimal(0)
    return Decimal(now) - Decimal(came_in) + Decimal(left)


def _found(*, item: Item, where: Place, lot: Lot | None, found: Decimal, clock: Clock) -> LineDraft:
    if lot is None:
        lying = list(
            Balance.objects.filter(item=item, place=where, quantity__gt=0).values_list("lot_id", flat=True)[:2]
        )
        lot_id = lying[0] if len(lying) == 1 else unknown_lots([item], clock=clock)[item.pk].pk
    else:
        lot_id = lot.pk
    return LineDraft(item.pk, lot_id, found, place(Place.Kind.COUNT_DIFFERENCE), where)


def _missing(*, item: Item, where: Place, lot: Lot | None, missing: Decimal, clock: Clock) -> list[LineDraft]:
    stock = lock_lots(item_ids=[item.pk], places=[where], clock=clock, lot_id=lot.pk if lot else None).get(item.pk, [])
    take = take_fifo(stock, missing)
    if take.shortfall > 0:
        raise CountContradictedError(
            "{item} at {kind}: the count is {missing} below the books at {occurred_at}, but later movements used "
            "all but {used} of it.",
            item=item.code,
            kind=where.get_kind_display(),
            missing=plain(missing),
            occurred_at=clock.occurred_at,
            used=plain(missing - take.shortfall),
            pointer="/counted",
        )
    difference = place(Place.Kind.COUNT_DIFFERENCE)
    return [LineDraft(item.pk, part.lot_id, part.quantity, where, difference) for part in take.parts]
