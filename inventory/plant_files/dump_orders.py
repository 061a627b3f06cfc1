"""Orders with what came of them, as rows of orders.csv."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from django.db.models import F, Max, Min, Sum

from inventory.models import Order, OrderLine, OrderLineChange
from inventory.plant_files.order_books import span_of
from inventory.rules.calendar import CalendarError, PlantCalendar
from inventory.selectors.plant import plant_calendar

Reason = OrderLineChange.Reason
CANCELLED = {Reason.CANCELLED_BY_CUSTOMER: "customer", Reason.CANCELLED_BY_SHOP: "shop"}


def order_rows() -> Iterator[Mapping[str, Any]]:
    """Yield the lines of all orders, sorted by arrival. Three queries and the calendar, whatever the number.

    A line that was amended away is no row: nobody asks for it any more.
    """
    cancelled = _cancelled_lines()
    bounds = Order.objects.aggregate(first=Min("received_at"), last=Max("received_at"))
    if bounds["first"] is None:
        return
    first, last = span_of([bounds["first"]], as_of=bounds["last"])
    calendar = plant_calendar(first=first, last=last)
    lines = OrderLine.ordered.order_by().annotate(channel=F("order__channel__code"), sku_code=F("sku__item__code"))
    ordered = sorted(
        lines.select_related("order"),
        key=lambda line: (line.order.received_at, line.channel, line.order.reference, line.line_no),
    )
    for line in ordered:
        order = line.order
        taken_back, by, at = cancelled.get(line.pk, (0, "", None))
        quantity = line.quantity + taken_back
        if quantity == 0:
            continue
        is_usual = line.shipped == (quantity if line.shipped_complete_day else 0)
        yield {
            "channel": line.channel,
            "reference": order.reference,
            "kind": order.kind,
            "received_at": order.received_at,
            "wanted_day": order.wanted_day,
            "due_day": None if _is_by_calendar(order, calendar) else order.due_day,
            "may_part_ship": order.may_part_ship,
            "ship_to": order.ship_to,
            "line_no": line.line_no,
            "sku": line.sku_code,
            "quantity": quantity,
            "shipped": None if is_usual else line.shipped,
            "shipped_day": line.shipped_complete_day,
            "cancelled_by": by,
            "cancelled_at": None if at == order.received_at else at,
            "quoted_day": line.quoted_day,
        }


def _cancelled_lines() -> dict[int, tuple[int, str, datetime]]:
    """By line: spools that were cancelled, by whom, and when."""
    rows = (
        OrderLineChange.objects.filter(reason__in=CANCELLED)
        .order_by()
        .values_list("order_line_id", "reason")
        .annotate(delta=Sum("delta"), at=Max("occurred_at"))
    )
    return {line_id: (-delta, CANCELLED[Reason(reason)], at) for line_id, reason, delta, at in rows}


def _is_by_calendar(order: Order, calendar: PlantCalendar) -> bool:
    """Say whether the calendar of today gives the due day, so that the cell may stay empty."""
    try:
        return calendar.due_day(order.received_at, order.wanted_day) == order.due_day
    except CalendarError:
        return False
