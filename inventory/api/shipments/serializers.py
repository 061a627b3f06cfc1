"""Shapes of shipments."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.fields import MAX_SPOOLS, CountField, NoteField, OccurredSerializer, StrictSerializer, rows_of
from inventory.api.orders.serializers import MAX_LINES
from inventory.models import Order

MAX_ID = 2**63 - 1


class ShipmentLineBody(StrictSerializer):
    """Spools of one line of the order."""

    line_no = CountField(min_value=1, max_value=32_767, help_text="number of the line in its order")
    quantity = CountField(min_value=1, max_value=MAX_SPOOLS, help_text="spools")


class ShipmentBody(OccurredSerializer):
    """An order, or a part of it, leaves."""

    order = CountField(min_value=1, max_value=MAX_ID, help_text="id of the order")
    lines = rows_of(
        ShipmentLineBody, at_most=MAX_LINES, required=False, help_text="left out: all that it holds of the shelf"
    )
    document = NoteField(max_length=80, help_text="waybill or delivery note")


class ShippedLineSerializer(serializers.Serializer[Any]):
    """What of a line left."""

    line_no = serializers.IntegerField(help_text="number of the line in its order")
    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    quantity = serializers.IntegerField(help_text="spools in this shipment")
    is_complete = serializers.BooleanField(help_text="nothing of the line is left to ship")


class ShipmentSerializer(serializers.Serializer[Any]):
    """What left."""

    id = serializers.IntegerField(help_text="of the shipment")
    order = serializers.IntegerField(source="order_id", help_text="id of the order")
    channel = serializers.CharField(help_text="where the order comes from")
    reference = serializers.CharField(help_text="the channel's own number of the order")
    order_state = serializers.ChoiceField(choices=Order.State.choices, help_text="shipped when nothing is left")
    ship_day = serializers.DateField(help_text="local day on which it left")
    shipped_at = serializers.DateTimeField(help_text="when it left")
    document = serializers.CharField(help_text="paper that goes with it")
    lines = ShippedLineSerializer(many=True, help_text="what left")
