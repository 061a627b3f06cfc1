"""What stands on carts goes with them: spools that are moved by number are those that stand on none."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Q, Sum

from inventory.errors import ConflictError
from inventory.models import Balance, Cart, CartSpools, Lot, Place
from inventory.rules.texts import listed

# Where the spools of a cart lie: before it is loaded, and from its oven until they are packed.
WAITS = Q(cart__oven_load__isnull=True)
STAGES = ((WAITS, (Place.Kind.WOUND,)), (~WAITS, (Place.Kind.OVEN, Place.Kind.PACKING)))


class OnCartError(ConflictError):
    """Spools stand on a cart that was not named, and go with it."""

    code = "on_cart"


def check_left_for_carts(lot_ids: Collection[int], *, but: Collection[Cart] = ()) -> None:
    """Refuse if fewer spools of a lot are left than stand on carts, other than those named. A query if none do.

    Raises
    ------
    OnCartError
        With the lot and its carts.
    """
    standing = CartSpools.objects.filter(lot_id__in=lot_ids).exclude(cart__in=but)
    for lot in Lot.objects.filter(pk__in=standing.values("lot_id")).order_by("code"):
        for carts, kinds in STAGES:
            rows = list(standing.filter(carts, lot=lot).order_by("cart__code").values_list("cart__code", "spools"))
            left = Balance.objects.filter(lot=lot, place__kind__in=kinds).aggregate(n=Sum("quantity"))["n"] or 0
            on_carts = sum(spools for _code, spools in rows)
            if on_carts > left:
                raise OnCartError(
                    "Of lot {lot} {on_carts} spools stand on cart {carts} and go with it, {left} would be left.",
                    lot=lot.code,
                    on_carts=on_carts,
                    carts=listed(code for code, _spools in rows),
                    left=int(left),
                    pointer="/spools",
                )
