"""Carts: what stands on them, and their way through oven and packing by one scan each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser
from django.db.models import Sum

from inventory.errors import ConflictError, InvalidInputError, NotFoundError
from inventory.models import Balance, Cart, CartSpools, Lot, Movement, OvenLoad, Place
from inventory.rules.clock import Clock
from inventory.services.ovens import load_oven, unload_oven
from inventory.services.packing import pack
from inventory.services.run_records import MOST_SPOOLS
from inventory.services.spool_sources import SpoolSpec
from inventory.services.transactions import in_one_transaction


class CartBusyError(ConflictError):
    """The cart is not where this can be done with it."""

    code = "cart_busy"


class NotWoundError(ConflictError):
    """Fewer spools of a lot wait for an oven, on no other cart, than were put on a cart."""

    code = "not_wound"


@in_one_transaction
def put_on_cart(*, cart_code: str, spools: Mapping[str, int]) -> Cart:
    """Put wound spools on a cart that waits, by the code of their lot. Locks the cart, then the lots by id.

    Raises
    ------
    NotFoundError
        If there is no such cart or lot.
    InvalidInputError
        If nothing is put on it, or a number is outside 1 to `MOST_SPOOLS`.
    CartBusyError
        If the cart is in an oven, or holds a load that is still to be packed.
    NotWoundError
        If fewer spools of a lot wait for an oven and stand on no other cart.
    """
    cart = _locked(cart_code)
    if cart.oven_load is not None:
        raise CartBusyError(
            "Cart {cart} holds load {oven_load}; pack or empty it first.", cart=cart_code, oven_load=cart.oven_load.code
        )
    if not spools:
        raise InvalidInputError("No spools are put on the cart.", pointer="/spools")
    lots = {lot.code: lot for lot in Lot.objects.filter(code__in=spools).order_by("id").select_for_update()}
    for code, count in spools.items():
        if code not in lots:
            raise NotFoundError("Lot {code!r} does not exist.", code=code, pointer=f"/spools/{code}")
        if not 1 <= count <= MOST_SPOOLS:
            raise InvalidInputError(
                "{count} spools: 1 to {most} are allowed.", count=count, most=MOST_SPOOLS, pointer=f"/spools/{code}"
            )
        _check_wound(lots[code], count)
        row, is_new = CartSpools.objects.get_or_create(cart=cart, lot=lots[code], defaults={"spools": count})
        if not is_new:
            row.spools += count
            row.save(update_fields=["spools"])
    return cart


@in_one_transaction
def empty_cart(*, cart_code: str) -> None:
    """Take everything off a cart that is in no oven: the spools stay where the books have them.

    Raises
    ------
    NotFoundError
        If there is no such cart.
    CartBusyError
        If it stands in an oven.
    """
    cart = _locked(cart_code)
    _check_out_of_the_oven(cart)
    _clear(cart)


@in_one_transaction
def load_carts(
    *,
    oven_code: str,
    cart_codes: Sequence[str],
    clock: Clock,
    temperature_c: int | None = None,
    hours: Decimal | None = None,
    posted_by: AbstractBaseUser | None = None,
) -> OvenLoad:
    """Load an oven with all that stands on some carts, as `load_oven` does. Locks the carts by code, then as it does.

    Raises
    ------
    NotFoundError
        If there is no such oven or cart.
    InvalidInputError
        If no cart is named.
    CartBusyError
        If a cart is empty, or holds a load already.
    OvenBusyError, OvenLimitError, NotEnoughStockError
        As of `load_oven`.
    """
    if not cart_codes:
        raise InvalidInputError("No cart is named.", pointer="/carts")
    carts = [_locked(code, pointer=f"/carts/{cart_codes.index(code)}") for code in sorted(set(cart_codes))]
    specs: list[SpoolSpec] = []
    for cart in carts:
        if cart.oven_load is not None:
            raise CartBusyError(
                "Cart {cart} holds load {oven_load} already.", cart=cart.code, oven_load=cart.oven_load.code
            )
        on_cart = _specs(cart)
        if not on_cart:
            raise CartBusyError("Nothing stands on cart {cart}.", cart=cart.code)
        specs += on_cart
    load = load_oven(
        oven_code=oven_code,
        spools=specs,
        clock=clock,
        temperature_c=temperature_c,
        hours=hours,
        carts=carts,
        posted_by=posted_by,
    )
    for cart in carts:
        cart.oven_load = load
        cart.save(update_fields=["oven_load"])
    return load


@in_one_transaction
def unload_cart(*, cart_code: str, clock: Clock, posted_by: AbstractBaseUser | None = None) -> Movement | None:
    """Take out of its oven the load with which a cart stands there: the whole of it, as it shares one drying.

    Raises
    ------
    NotFoundError
        If there is no such cart.
    CartBusyError
        If the cart is in no oven.
    OvenBusyError
        If its load is not dry.
    """
    cart = _locked(cart_code)
    if cart.oven_load is None or cart.oven_load.unloaded_at is not None:
        raise CartBusyError("Cart {cart} is in no oven.", cart=cart_code)
    return unload_oven(oven_code=cart.oven_load.oven.code, clock=clock, posted_by=posted_by)


@in_one_transaction
def pack_cart(*, cart_code: str, clock: Clock, posted_by: AbstractBaseUser | None = None) -> Movement:
    """Pack all that stands on a cart onto the shelf; the cart is empty afterwards.

    Raises
    ------
    NotFoundError
        If there is no such cart.
    CartBusyError
        If it stands in an oven, or nothing stands on it.
    NotEnoughStockError
        If its spools were not dried, or fewer than stand on it in the books are left.
    """
    cart = _locked(cart_code)
    # Other spools of the same lot may be dry by now: the books would take them for those on the cart.
    _check_out_of_the_oven(cart)
    specs = _specs(cart)
    if not specs:
        raise CartBusyError("Nothing stands on cart {cart}.", cart=cart_code)
    movement = pack(spools=specs, clock=clock, carts=[cart], posted_by=posted_by)
    _clear(cart)
    return movement


def _locked(code: str, *, pointer: str = "/cart") -> Cart:
    cart = Cart.objects.select_for_update(of=("self",)).select_related("oven_load__oven").filter(code=code).first()
    if cart is None:
        raise NotFoundError("Cart {code!r} does not exist.", code=code, pointer=pointer)
    return cart


def _check_out_of_the_oven(cart: Cart) -> None:
    if cart.oven_load is not None and cart.oven_load.unloaded_at is None:
        raise CartBusyError("Cart {cart} stands in oven {oven}.", cart=cart.code, oven=cart.oven_load.oven.code)


def _clear(cart: Cart) -> None:
    cart.spools.all().delete()
    cart.oven_load = None
    cart.save(update_fields=["oven_load"])


def _specs(cart: Cart) -> list[SpoolSpec]:
    return list(cart.spools.order_by("lot_id").values_list("lot__code", "lot__item__code", "spools"))


def _check_wound(lot: Lot, count: int) -> None:
    wound = Balance.objects.filter(lot=lot, place__kind=Place.Kind.WOUND).aggregate(n=Sum("quantity"))["n"] or 0
    waiting = CartSpools.objects.filter(lot=lot, cart__oven_load__isnull=True).aggregate(n=Sum("spools"))["n"] or 0
    if waiting + count > wound:
        raise NotWoundError(
            "Of lot {lot} {wound} spools wait for an oven, {waiting} of them on carts; {count} more do not.",
            lot=lot.code,
            wound=int(wound),
            waiting=waiting,
            count=count,
        )
