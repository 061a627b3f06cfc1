"""Spools that come back from customers: received, then inspected and put back on the shelf or scrapped."""

from __future__ import annotations

from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.models import Movement, Place
from inventory.rules.clock import Clock
from inventory.services.lookup import sku_item_by_code
from inventory.services.places import place
from inventory.services.taking import take_stock


def receive_return(
    *,
    sku_code: str,
    lot_code: str,
    quantity: int,
    clock: Clock,
    reason: str = "",
    document: str = "",
    posted_by: AbstractBaseUser | None = None,
) -> Movement:
    """Receive spools of one lot from a customer; they wait for inspection and are not for sale.

    Raises
    ------
    NotFoundError
        If SKU or lot do not exist.
    NotEnoughStockError
        If fewer spools of the lot are with customers.
    """
    return take_stock(
        kind=Movement.Kind.RETURN,
        item=sku_item_by_code(sku_code),
        quantity=Decimal(quantity),
        source=place(Place.Kind.CUSTOMER),
        target_kind=Place.Kind.RETURNS,
        lot_code=lot_code,
        clock=clock,
        posted_by=posted_by,
        reason=reason,
        document=document,
    )


def restock(
    *,
    sku_code: str,
    lot_code: str,
    quantity: int,
    clock: Clock,
    reason: str = "",
    posted_by: AbstractBaseUser | None = None,
) -> Movement:
    """Put inspected returns back on the shelf, where waiting orders are served at once.

    Raises
    ------
    NotFoundError
        If SKU or lot do not exist.
    NotEnoughStockError
        If fewer spools of the lot are among the returns.
    LotHeldError
        If the lot is held for quality.
    """
    return take_stock(
        kind=Movement.Kind.RESTOCK,
        item=sku_item_by_code(sku_code),
        quantity=Decimal(quantity),
        source=place(Place.Kind.RETURNS),
        target_kind=Place.Kind.SHELF,
        lot_code=lot_code,
        clock=clock,
        posted_by=posted_by,
        reason=reason,
    )
