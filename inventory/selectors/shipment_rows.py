"""Shipments as rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from inventory.models import Order, Shipment, ShipmentLine


@dataclass(frozen=True)
class ShipmentLineRow:
    """What of an order's line left with the shipment."""

    line_no: int
    sku_code: str
    quantity: int
    is_complete: bool


@dataclass(frozen=True)
class ShipmentRow:
    """One shipment of an order."""

    id: int
    order_id: int
    channel: str
    reference: str
    order_state: str
    ship_day: date
    shipped_at: datetime
    document: str
    lines: tuple[ShipmentLineRow, ...]


def shipment_row(shipment: Shipment) -> ShipmentRow:
    """Return one shipment with its order as it stands. Two queries."""
    order = Order.objects.select_related("channel").get(pk=shipment.order_id)
    lines = ShipmentLine.objects.filter(shipment=shipment).select_related("order_line__sku__item")
    return ShipmentRow(
        id=shipment.pk,
        order_id=order.pk,
        channel=order.channel.code,
        reference=order.reference,
        order_state=order.state,
        ship_day=shipment.ship_day,
        shipped_at=shipment.shipped_at,
        document=shipment.document,
        lines=tuple(_line(line) for line in lines.order_by("order_line__line_no")),
    )


def _line(line: ShipmentLine) -> ShipmentLineRow:
    return ShipmentLineRow(
        line_no=line.order_line.line_no,
        sku_code=line.order_line.sku.item.code,
        quantity=line.quantity,
        is_complete=line.order_line.shipped == line.order_line.quantity,
    )
