"""Stock that leaves without an order: scrapped, used by the plant itself, given away as samples."""

from __future__ import annotations

from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import InvalidInputError
from inventory.models import Movement, Place
from inventory.rules.clock import Clock
from inventory.services.lookup import item_by_code, sku_item_by_code
from inventory.services.taking import physical_place, take_stock


def scrap(
    *,
    item_code: str,
    quantity: Decimal | int,
    clock: Clock,
    reason: str,
    place_kind: str = Place.Kind.SHELF,
    lot_code: str | None = None,
    posted_by: AbstractBaseUser | None = None,
) -> Movement:
    """Scrap spools, material or parts of a place, oldest lot first or of one lot. What was promised is promised anew.

    Raises
    ------
    InvalidInputError
        If no reason is given, or quantity or place are wrong.
    NotFoundError, NotEnoughStockError
        If the item or the lot does not exist, or the place holds too little.
    """
    _need_reason(reason)
    return take_stock(
        kind=Movement.Kind.SCRAP,
        item=item_by_code(item_code),
        quantity=Decimal(quantity),
        source=physical_place(place_kind),
        target_kind=Place.Kind.SCRAP,
        lot_code=lot_code,
        clock=clock,
        posted_by=posted_by,
        reason=reason,
    )


def take_own_use(
    *,
    sku_code: str,
    quantity: int,
    clock: Clock,
    reason: str,
    lot_code: str | None = None,
    posted_by: AbstractBaseUser | None = None,
) -> Movement:
    """Take spools of the shelf for the plant's own use. Raises as `scrap`."""
    _need_reason(reason)
    return take_stock(
        kind=Movement.Kind.OWN_USE,
        item=sku_item_by_code(sku_code),
        quantity=Decimal(quantity),
        source=physical_place(Place.Kind.SHELF),
        target_kind=Place.Kind.OWN_USE,
        lot_code=lot_code,
        clock=clock,
        posted_by=posted_by,
        reason=reason,
    )


def take_samples(
    *,
    sku_code: str,
    quantity: int,
    clock: Clock,
    reason: str,
    lot_code: str | None = None,
    posted_by: AbstractBaseUser | None = None,
) -> Movement:
    """Take spools of the shelf as samples. Raises as `scrap`."""
    _need_reason(reason)
    return take_stock(
        kind=Movement.Kind.SAMPLE,
        item=sku_item_by_code(sku_code),
        quantity=Decimal(quantity),
        source=physical_place(Place.Kind.SHELF),
        target_kind=Place.Kind.SAMPLES,
        lot_code=lot_code,
        clock=clock,
        posted_by=posted_by,
        reason=reason,
    )


def _need_reason(reason: str) -> None:
    if not reason.strip():
        raise InvalidInputError("Say why: stock does not leave without a reason.", pointer="/reason")
