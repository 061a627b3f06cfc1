"""Holds for quality: a lot leaves every place where it lies, and comes back when it is released."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import ConflictError
from inventory.models import Balance, Item, Lot, Movement, MovementLine, Place
from inventory.rules.clock import Clock
from inventory.rules.flows import PHYSICAL
from inventory.rules.webhooks import Event
from inventory.services.allocations import lock_supply
from inventory.services.ledger import LineDraft, LotHeldError, place, post_movement
from inventory.services.lookup import lot_by_code
from inventory.services.outbox import tell_lot
from inventory.services.run_supply import move_shelf_day
from inventory.services.taking import lock_item
from inventory.services.transactions import in_one_transaction


class LotNotHeldError(ConflictError):
    """The lot is not held, so it cannot be released."""

    code = "lot_not_held"


@in_one_transaction
def hold_lot(*, lot_code: str, clock: Clock, reason: str, posted_by: AbstractBaseUser | None = None) -> Movement | None:
    """Take all of a lot out of sale and use, wherever it lies. Orders that counted on it are promised anew.

    Returns
    -------
    Movement or None
        None where nothing of the lot is in the plant; what comes back of it cannot be restocked all the same.

    Raises
    ------
    NotFoundError, LotHeldError
        If the lot does not exist or is held already.
    """
    lot = _locked_lot(lot_code, clock=clock)
    if lot.is_held:
        raise LotHeldError("Lot {lot} is held already.", lot=lot_code, pointer="/lot")
    _mark(lot, is_held=True)
    tell_lot(Event.LOT_HELD, lot, reason=reason, clock=clock)
    target = place(Place.Kind.HOLD)
    lying = Balance.objects.filter(lot=lot, is_physical=True, quantity__gt=0).exclude(place=target)
    lines = [
        LineDraft(lot.item_id, lot.pk, row.quantity, from_place=row.place, to_place=target)
        for row in lying.select_related("place").order_by("place_id")
    ]
    if not lines:
        return None
    return post_movement(
        kind=Movement.Kind.HOLD, lines=lines, clock=clock, posted_by=posted_by, reason=reason, document=lot_code
    )


@in_one_transaction
def hold_lots(
    *, lot_codes: Iterable[str], clock: Clock, reason: str, posted_by: AbstractBaseUser | None = None
) -> tuple[str, ...]:
    """Hold each of these lots that is not held yet, all or none; return the codes of those.

    Locks the supply of all their SKUs before the first lot.

    Raises
    ------
    LotHeldError
        If somebody else puts a lot of material on hold at this moment: nothing was held here, try again.
    """
    lots = Lot.objects.filter(code__in=list(lot_codes)).order_by("item_id", "id")
    if sku_ids := set(lots.filter(item__kind=Item.Kind.SKU).values_list("item_id", flat=True)):
        lock_supply(sku_ids=sku_ids, clock=clock)
    # Read under the lock: whoever held one of them meanwhile is done.
    codes = tuple(lots.filter(is_held=False).values_list("code", flat=True))
    for code in codes:
        hold_lot(lot_code=code, clock=clock, reason=reason, posted_by=posted_by)
    return codes


@in_one_transaction
def release_lot(
    *, lot_code: str, clock: Clock, reason: str, posted_by: AbstractBaseUser | None = None
) -> Movement | None:
    """Put a held lot back where it came from, less what was scrapped of it meanwhile.

    Spools that were in an oven go back to the wound ones: nobody vouches for a drying that was broken off. If the
    supply of a run comes back, its shelf day is set anew and orders are served of it.

    Raises
    ------
    NotFoundError, LotNotHeldError
        If the lot does not exist or is not held.
    """
    lot = _locked_lot(lot_code, clock=clock)
    if not lot.is_held:
        raise LotNotHeldError("Lot {lot} is not held.", lot=lot_code, pointer="/lot")
    _mark(lot, is_held=False)
    tell_lot(Event.LOT_RELEASED, lot, reason=reason, clock=clock)
    source = place(Place.Kind.HOLD)
    held = Balance.objects.filter(lot=lot, place=source, quantity__gt=0).first()
    if held is None:
        return None
    lines = [
        LineDraft(lot.item_id, lot.pk, quantity, from_place=source, to_place=place(kind))
        for kind, quantity in _ways_back(lot, held.quantity)
    ]
    movement = post_movement(
        kind=Movement.Kind.HOLD_RELEASE, lines=lines, clock=clock, posted_by=posted_by, reason=reason, document=lot_code
    )
    if lot.run is not None:
        move_shelf_day(run=lot.run, sku_ids=[lot.item_id], wound_at=clock.occurred_at, clock=clock, cause=reason)
    return movement


def _locked_lot(lot_code: str, *, clock: Clock) -> Lot:
    """Lock the supply of the SKU first and then the lot, as ledger.py orders."""
    item = lot_by_code(lot_code).item
    lock_item(item, clock=clock)
    return (
        Lot.objects.select_related("item", "run__filament__material").select_for_update(of=("self",)).get(code=lot_code)
    )


def _mark(lot: Lot, *, is_held: bool) -> None:
    lot.is_held = is_held
    lot.save(update_fields=["is_held"])


def _ways_back(lot: Lot, quantity: Decimal) -> Iterable[tuple[str, Decimal]]:
    """Kinds of place and quantities: as the last hold took them, first in first out."""
    hold = Movement.objects.filter(kind=Movement.Kind.HOLD, lines__lot=lot).order_by("-id").first()
    taken = MovementLine.objects.filter(movement=hold, lot=lot) if hold is not None else MovementLine.objects.none()
    for line in taken.select_related("from_place").order_by("id"):
        part = min(line.quantity, quantity)
        if part > 0:
            yield _place_after_hold(line.from_place.kind), part
            quantity -= part
    if quantity > 0:
        # Counted into the hold: nobody knows from where.
        yield (Place.Kind.PACKING if lot.item.kind == Item.Kind.SKU else Place.Kind.RESIN_STORE), quantity


def _place_after_hold(kind: str) -> str:
    return Place.Kind.WOUND if kind == Place.Kind.OVEN or kind not in PHYSICAL else kind
