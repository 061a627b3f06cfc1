"""What is kept for visitors: spools of the shelf that go back by themselves at an hour."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from inventory.models import Order, OrderLine


@dataclass(frozen=True)
class KeptOrder:
    """Spools by SKU code that are kept for a visitor until an instant. `visitor` is what sales wrote down of them."""

    order_id: int
    channel_code: str
    reference: str
    visitor: str
    kept_until: datetime
    spools: dict[str, int]


def kept_orders(*, now: datetime) -> list[KeptOrder]:
    """Return what is kept and not over, the first end first. Two queries."""
    orders = list(_open().filter(kept_until__gt=now).select_related("channel").order_by("kept_until", "id"))
    lines: defaultdict[int, dict[str, int]] = defaultdict(dict)
    rows = OrderLine.objects.filter(order__in=[order.pk for order in orders]).order_by("order", "line_no")
    for order_id, code, quantity in rows.values_list("order_id", "sku__item__code", "quantity"):
        lines[order_id][code] = quantity
    return [
        KeptOrder(order.pk, order.channel.code, order.reference, order.ship_to, order.kept_until, lines[order.pk])
        for order in orders
        if order.kept_until is not None
    ]


def past_kept(*, now: datetime, sku_ids: Collection[int] | None = None) -> list[int]:
    """Return the ids of what is over but still holds its spools, of all SKUs or of some. One query."""
    past = _open().filter(kept_until__lte=now)
    if sku_ids is not None:
        past = past.filter(lines__sku_id__in=sku_ids)
    return list(past.order_by("id").values_list("pk", flat=True).distinct())


def _open() -> QuerySet[Order]:
    return Order.objects.filter(kind=Order.Kind.KEPT, state=Order.State.OPEN)
