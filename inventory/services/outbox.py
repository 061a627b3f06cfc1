"""The outbox of webhooks: messages are written in the transaction of the fact that they tell of.

A fact that is rolled back tells nobody, and one that is committed is told even if the process dies right after it.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from inventory.models import (
    Lot,
    OrderLine,
    PromiseChange,
    Shipment,
    WebhookDelivery,
    WebhookEndpoint,
    WebhookMessage,
)
from inventory.rules.clock import Clock
from inventory.rules.webhooks import Event


@dataclass(frozen=True)
class _News:
    """One message: what it says, and the channel whose order it is about (None: of no order)."""

    data: Mapping[str, Any]
    channel_id: int | None = None


def tell_order_shipped(shipment: Shipment, *, clock: Clock) -> None:
    """Tell that a parcel of an order left. One query where nobody listens."""
    if not (endpoints := _listening(Event.ORDER_SHIPPED)):
        return
    order = shipment.order
    lines = shipment.lines.select_related("order_line__sku__item").order_by("order_line__line_no")
    data = {
        "order": order.pk,
        "channel": order.channel.code,
        "reference": order.reference,
        "shipment": shipment.pk,
        "ship_day": shipment.ship_day.isoformat(),
        "document": shipment.document,
        "state": order.state,
        "lines": [
            {"line_no": line.order_line.line_no, "sku": line.order_line.sku.item.code, "quantity": line.quantity}
            for line in lines
        ],
    }
    _write(Event.ORDER_SHIPPED, [_News(data, order.channel_id)], endpoints, clock=clock)


def tell_promises_moved(changes: Sequence[PromiseChange], *, clock: Clock) -> None:
    """Tell which lines of orders have another ship day than they were promised. One query where nobody listens."""
    if not changes or not (endpoints := _listening(Event.ORDER_PROMISE_MOVED)):
        return
    lines = OrderLine.ordered.select_related("order__channel", "sku__item").in_bulk(
        [one.order_line_id for one in changes]
    )
    news = [_promise_news(one, lines[one.order_line_id]) for one in changes if one.order_line_id in lines]
    _write(Event.ORDER_PROMISE_MOVED, news, endpoints, clock=clock)


def tell_lot(event: Event, lot: Lot, *, reason: str, clock: Clock) -> None:
    """Tell that a lot was held or released. One query where nobody listens."""
    if endpoints := _listening(event):
        data = {"lot": lot.code, "item": lot.item.code, "reason": reason}
        _write(event, [_News(data)], endpoints, clock=clock)


def _promise_news(change: PromiseChange, line: OrderLine) -> _News:
    data = {
        "order": line.order_id,
        "channel": line.order.channel.code,
        "reference": line.order.reference,
        "line_no": line.line_no,
        "sku": line.sku.item.code,
        "old_day": None if change.old_day is None else change.old_day.isoformat(),
        "new_day": None if change.new_day is None else change.new_day.isoformat(),
        "cause": change.cause,
    }
    return _News(data, line.order.channel_id)


def _listening(event: Event) -> list[WebhookEndpoint]:
    """Endpoints that hear of an event. JSON lists are searched here: there are few endpoints, and two databases."""
    return [endpoint for endpoint in WebhookEndpoint.objects.filter(is_active=True) if event in endpoint.events]


def _write(event: Event, news: Sequence[_News], endpoints: Sequence[WebhookEndpoint], *, clock: Clock) -> None:
    wanted = [(each, hearing) for each in news if (hearing := _hearing(each, endpoints))]
    messages = WebhookMessage.objects.bulk_create(
        WebhookMessage(
            code=f"msg_{uuid.uuid4().hex}",
            event=event,
            body=_body(event, each.data, at=clock.known_at),
            created_at=clock.known_at,
        )
        for each, _ in wanted
    )
    WebhookDelivery.objects.bulk_create(
        WebhookDelivery(message=message, endpoint=endpoint, next_attempt_at=clock.known_at)
        for message, (_, hearing) in zip(messages, wanted, strict=True)
        for endpoint in hearing
    )


def _hearing(news: _News, endpoints: Sequence[WebhookEndpoint]) -> list[WebhookEndpoint]:
    return [each for each in endpoints if each.channel_id is None or each.channel_id == news.channel_id]


def _body(event: Event, data: Mapping[str, Any], *, at: datetime) -> str:
    """The body as the specification shapes it."""
    return json.dumps({"type": event, "timestamp": at.isoformat(), "data": data}, separators=(",", ":"))
