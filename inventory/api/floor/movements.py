"""Shapes of what a report of the floor changed in the books."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class MovementLineSerializer(serializers.Serializer[Any]):
    """One quantity of one lot on its way."""

    item = serializers.CharField(source="item_code")
    lot = serializers.CharField(source="lot_code")
    quantity = serializers.FloatField(help_text="spools, kg or pieces")
    from_place = serializers.CharField()
    to_place = serializers.CharField()


class MovementSerializer(serializers.Serializer[Any]):
    """One movement of the ledger."""

    id = serializers.IntegerField()
    kind = serializers.CharField()
    occurred_at = serializers.DateTimeField()
    known_at = serializers.DateTimeField()
    reason = serializers.CharField()
    document = serializers.CharField()
    lines = MovementLineSerializer(many=True)


class CountSerializer(serializers.Serializer[Any]):
    """What a count changed."""

    movement = MovementSerializer(allow_null=True, help_text="null: the books were right")


class LotPlaceSerializer(serializers.Serializer[Any]):
    """What of a lot is at one place."""

    place = serializers.CharField(source="place_code")
    quantity = serializers.FloatField()


class LotSerializer(serializers.Serializer[Any]):
    """One lot, and where what is left of it is."""

    lot = serializers.CharField(source="code")
    item = serializers.CharField(source="item_code")
    supplier_lot = serializers.CharField()
    run = serializers.CharField(source="run_code", allow_null=True)
    is_held = serializers.BooleanField()
    places = LotPlaceSerializer(many=True)


class OvenLoadSerializer(serializers.Serializer[Any]):
    """One load of an oven."""

    load = serializers.CharField(source="code")
    oven = serializers.CharField(source="oven_code")
    loaded_at = serializers.DateTimeField()
    ready_at = serializers.DateTimeField(help_text="dry; packing before is refused")
    temperature_c = serializers.IntegerField()
    hours = serializers.FloatField()
    spools = MovementLineSerializer(many=True)
