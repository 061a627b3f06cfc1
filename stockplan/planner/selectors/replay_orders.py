"""Orders and what became known of them when, as a replay takes them."""

from __future__ import annotations

from datetime import date, datetime

from inventory.models import Order, OrderLine, OrderLineChange
from inventory.selectors.service_lines import CUSTOMER_KINDS
from stockplan.planner.core.replay.orders import LineChange, OrderHistory, ReplayOrder


def order_history(*, first_day: date, until: datetime) -> OrderHistory:
    """Return the orders due from a day on, and all that was known of them before an instant. Three queries.

    What the shop cancelled stays wanted: another plant, or this one with another list, might have had it.
    """
    changes = (
        OrderLineChange.objects.filter(order_line__order__due_day__gte=first_day, known_at__lt=until)
        .exclude(reason=OrderLineChange.Reason.CANCELLED_BY_SHOP)
        .order_by("known_at", "pk")
        .values_list("known_at", "order_line__order_id", "order_line__sku__item__code", "delta")
    )
    made_to_order = set(
        OrderLine.objects.filter(order__due_day__gte=first_day, sku__is_stocked=False).values_list(
            "order_id", flat=True
        )
    )
    orders = Order.objects.filter(due_day__gte=first_day, known_at__lt=until)
    rows = orders.values_list("pk", "received_at", "due_day", "may_part_ship", "kind")
    return OrderHistory(
        orders={
            pk: ReplayOrder(pk, received_at, due_day, may_part_ship, kind in CUSTOMER_KINDS and pk not in made_to_order)
            for pk, received_at, due_day, may_part_ship, kind in rows
        },
        changes=tuple(LineChange(*row) for row in changes),
    )
