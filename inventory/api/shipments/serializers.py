"""Shapes of shipments."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.fields import MAX_SPOOLS, CountField, OccurredSerializer, StrictSerializer, TextField, rows_of
from inventory.api.orders.serializers import MAX_LINES
from inventory.models import Order

MAX_ID = 2**63 - 1


class ShipmentLineBody(StrictSerializer):
    """Spools of one line of the order."""

    line_no = CountField(min_value=1, max_value=32_767)
    quantity = CountField(min_value=1, max_value=MAX_SPOOLS)


class ShipmentBody(OccurredSerializer):
    """An order, or a part of it, leaves."""

    order = CountField(min_value=1, max_value=MAX_ID, help_text="id of the order")
    lines = rows_of(
        ShipmentLineBody, at_most=MAX_LINES, required=False, help_text="left out: all that it holds of the shelf"
    )
    document = TextField(max_length=80, allow_blank=True, default="", help_text="waybill or delivery note")


class ShippedLineSerializer(serializers.Serializer[Any]):
    """What of a line left."""

    line_no = serializers.IntegerField()
    sku = serializers.CharField(source="sku_code")
    quantity = serializers.IntegerField(help_text="spools in this shipment")
    is_complete = serializers.BooleanField(help_text="nothing of the line is left to ship")


class ShipmentSerializer(serializers.Serializer[Any]):
    """What left."""

    id = serializers.IntegerField()
    order = serializers.IntegerField(source="order_id")
    channel = serializers.CharField()
    reference = serializers.CharField()
    order_state = serializers.ChoiceField(choices=Order.State.choices)
    ship_day = serializers.DateField()
    shipped_at = serializers.DateTimeField()
    document = serializers.CharField()
    lines = ShippedLineSerializer(many=True)
