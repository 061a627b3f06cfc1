"""What lies in the plant and is not for sale: returned spools that wait for inspection, and lots on hold."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from inventory.models import Balance, Lot, Movement, Place


@dataclass(frozen=True)
class SetAside:
    """What of a lot is set aside, and why; nothing of a lot on hold may be left in the plant."""

    lot_code: str
    item_code: str
    item_name: str
    quantity: Decimal
    why: str


def waiting_returns() -> list[SetAside]:
    """Return the spools that came back and wait for inspection, by SKU and lot. One query."""
    lying = Balance.objects.filter(place__kind=Place.Kind.RETURNS, quantity__gt=0)
    last = Movement.objects.filter(kind=Movement.Kind.RETURN, lines__lot=OuterRef("lot")).order_by("-id")
    rows = lying.annotate(why=_reason(last)).order_by("item__code", "lot__code")
    return [SetAside(*row) for row in rows.values_list("lot__code", "item__code", "item__name", "quantity", "why")]


def held_lots() -> list[SetAside]:
    """Return the lots on hold, by their item. One query."""
    held = Balance.objects.filter(lot=OuterRef("pk"), place__kind=Place.Kind.HOLD).order_by()
    quantity = held.values("lot").annotate(total=Sum("quantity")).values("total")
    last = Movement.objects.filter(kind=Movement.Kind.HOLD, lines__lot=OuterRef("pk")).order_by("-id")
    rows = Lot.objects.filter(is_held=True).annotate(
        quantity=Coalesce(Subquery(quantity), Decimal(0)), why=_reason(last)
    )
    named = rows.order_by("item__code", "code").values_list("code", "item__code", "item__name", "quantity", "why")
    return [SetAside(*row) for row in named]


def are_all_held(codes: Collection[str]) -> bool:
    """Tell whether all of these lots are on hold. One query."""
    return not Lot.objects.filter(code__in=codes, is_held=False).exists()


def _reason(movements: QuerySet[Movement]) -> Coalesce:
    return Coalesce(Subquery(movements.values("reason")[:1]), Value(""))
