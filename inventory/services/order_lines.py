"""What placing, amending and shipping an order share: the SKUs on sale, new lines, the end of an order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta

from inventory.models import Order, OrderLine, OrderLineChange, Sku
from inventory.order_errors import (
    ClosedOrderError,
    KeptOrderError,
    SkuNotOnSaleError,
    UnknownOrderError,
    UnknownSkuError,
)
from inventory.rules.calendar import PlantCalendar
from inventory.rules.clock import Clock
from inventory.rules.texts import text
from inventory.selectors.plant import ship_calendar
from inventory.services.clocks import check_not_before

CALENDAR_AHEAD_DAYS = 60


def lock_open_order(order_id: int, *, clock: Clock, may_be_kept: bool = False) -> Order:
    """Lock an order that can still change. One query.

    Raises
    ------
    UnknownOrderError, ClosedOrderError
        If there is no such order, or it is shipped or cancelled.
    KeptOrderError
        If its spools are only kept for a visitor, and that is not what is asked for.
    InvalidInputError
        If the change would be earlier than the order.
    """
    order = Order.objects.select_for_update(of=("self",)).select_related("channel").filter(pk=order_id).first()
    if order is None:
        raise UnknownOrderError("There is no order {order}.", order=order_id, pointer="/order")
    if order.state != Order.State.OPEN:
        raise ClosedOrderError(
            "Order {order} of channel {channel} is {state}; it cannot change any more.",
            order=order.reference,
            channel=order.channel.code,
            state=order.get_state_display(),
            pointer="/order",
        )
    if order.kind == Order.Kind.KEPT and not may_be_kept:
        raise KeptOrderError(
            "{order} is only kept for a visitor; take it as an order first.", order=order.reference, pointer="/order"
        )
    check_not_before(
        clock, Clock(order.received_at, order.known_at), what=text("order {order} was received", order=order.reference)
    )
    return order


def close_order(order: Order, *, state: str, clock: Clock, cancelled_by: str = "") -> None:
    """Close an order. One query."""
    order.state = state
    order.cancelled_by = cancelled_by
    order.closed_at = clock.occurred_at
    order.closed_known_at = clock.known_at
    order.save(update_fields=["state", "cancelled_by", "closed_at", "closed_known_at"])


def is_complete(lines: Iterable[OrderLine]) -> bool:
    """Whether nothing is left to ship."""
    return all(line.shipped == line.quantity for line in lines)


def skus_on_sale(codes: Sequence[str], *, day: date, positions: Mapping[str, int] | None = None) -> dict[str, Sku]:
    """The SKUs of the codes. One query.

    Raises
    ------
    UnknownSkuError, SkuNotOnSaleError
        With a pointer to the first line that names a wrong one.
    """
    found = {sku.item.code: sku for sku in Sku.objects.filter(item__code__in=codes).select_related("item")}
    for index, code in enumerate(codes):
        pointer = f"/lines/{positions[code] if positions else index}/sku"
        if code not in found:
            raise UnknownSkuError("There is no SKU {code}.", code=code, pointer=pointer)
        sku = found[code]
        check_on_sale(code, active_from=sku.active_from, active_to=sku.active_to, day=day, pointer=pointer)
    return found


def check_on_sale(code: str, *, active_from: date, active_to: date | None, day: date, pointer: str) -> None:
    """Refuse an SKU before its first and after its last day on sale.

    Raises
    ------
    SkuNotOnSaleError
    """
    if day < active_from:
        raise SkuNotOnSaleError(
            "SKU {code} is on sale from {active_from}; today is {day}.",
            code=code,
            active_from=active_from,
            day=day,
            pointer=pointer,
        )
    if active_to is not None and day > active_to:
        raise SkuNotOnSaleError(
            "SKU {code} was on sale until {active_to}; today is {day}.",
            code=code,
            active_to=active_to,
            day=day,
            pointer=pointer,
        )


def calendar_for(clock: Clock, *, wanted_day: date | None, version: str | None = None) -> PlantCalendar:
    """The calendar from the fact to some weeks past the wanted day; `version` is the plant's, where it is known."""
    first = clock.occurred_at.date() - timedelta(days=1)
    last = max(first, wanted_day or first)
    return ship_calendar(first=first, last=last + timedelta(days=CALENDAR_AHEAD_DAYS), version=version)


def insert_lines(lines: Sequence[OrderLine], *, clock: Clock, reason: str) -> None:
    """Write new lines of a saved order, and how much of each was asked for. Two queries."""
    OrderLine.objects.bulk_create(lines)
    OrderLineChange.objects.bulk_create(line_change(line, line.quantity, clock=clock, reason=reason) for line in lines)


def line_change(line: OrderLine, delta: int, *, clock: Clock, reason: str) -> OrderLineChange:
    """One change of a line's quantity."""
    return OrderLineChange(
        order_line=line, delta=delta, reason=reason, occurred_at=clock.occurred_at, known_at=clock.known_at
    )
