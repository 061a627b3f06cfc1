"""Carts as read: what stands on them and where they are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from inventory.errors import NotFoundError
from inventory.models import Cart, CartSpools


@dataclass(frozen=True)
class OnCart:
    """Spools of one lot on a cart."""

    lot_code: str
    sku_code: str
    sku_name: str
    colour_hex: str
    spools: int


@dataclass(frozen=True)
class CartRow:
    """A cart. With a load it stands in `oven_code` until it is taken out, and is dry at `ready_at`; None: it waits."""

    code: str
    load_code: str | None
    oven_code: str | None
    ready_at: datetime | None
    is_out: bool
    rows: tuple[OnCart, ...]

    @property
    def spools(self) -> int:
        """Spools of all lots on it."""
        return sum(row.spools for row in self.rows)


def carts(*, after: str = "", limit: int | None = None) -> list[CartRow]:
    """Return the carts whose code comes after `after`, by code, at most `limit`. Two queries."""
    return [_row(cart) for cart in _carts().filter(code__gt=after).order_by("code")[:limit]]


def cart_row(code: str) -> CartRow:
    """Return one cart. Two queries.

    Raises
    ------
    NotFoundError
        If there is none of that code.
    """
    found = _carts().filter(code=code).first()
    if found is None:
        raise NotFoundError("Cart {code!r} does not exist.", code=code, pointer="/cart")
    return _row(found)


def _carts() -> QuerySet[Cart]:
    on_cart = CartSpools.objects.select_related("lot__item__sku__filament__colour").order_by("lot__code")
    return Cart.objects.select_related("oven_load__oven").prefetch_related(Prefetch("spools", on_cart))


def _row(cart: Cart) -> CartRow:
    load = cart.oven_load
    return CartRow(
        code=cart.code,
        load_code=load.code if load else None,
        oven_code=load.oven.code if load else None,
        ready_at=load.ready_at if load else None,
        is_out=load is not None and load.unloaded_at is not None,
        rows=tuple(
            OnCart(
                lot_code=row.lot.code,
                sku_code=row.lot.item.code,
                sku_name=row.lot.item.name,
                colour_hex=row.lot.item.sku.filament.colour.hex,
                spools=row.spools,
            )
            for row in cart.spools.all()
        ),
    )
