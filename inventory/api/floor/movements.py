"""Shapes of what a report of the floor changed in the books."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class MovementLineSerializer(serializers.Serializer[Any]):
    """One quantity of one lot on its way."""

    item = serializers.CharField(source="item_code", help_text="code of the SKU, material or part")
    lot = serializers.CharField(source="lot_code", help_text="code of the lot")
    quantity = serializers.FloatField(help_text="spools, kg or pieces")
    from_place = serializers.CharField(help_text="code of the place")
    to_place = serializers.CharField(help_text="code of the place")


class MovementSerializer(serializers.Serializer[Any]):
    """One movement of the ledger."""

    id = serializers.IntegerField(help_text="of the movement")
    kind = serializers.CharField(help_text="what happened")
    occurred_at = serializers.DateTimeField(help_text="when it happened")
    known_at = serializers.DateTimeField(help_text="when the books learned of it")
    reason = serializers.CharField(help_text="why")
    document = serializers.CharField(help_text="paper that goes with it")
    lines = MovementLineSerializer(many=True, help_text="what moved")


class CountSerializer(serializers.Serializer[Any]):
    """What a count changed."""

    movement = MovementSerializer(allow_null=True, help_text="null: the books were right")


class LotPlaceSerializer(serializers.Serializer[Any]):
    """What of a lot is at one place."""

    place = serializers.CharField(source="place_code", help_text="code of the place")
    quantity = serializers.FloatField(help_text="spools, kg or pieces")


class LotSerializer(serializers.Serializer[Any]):
    """One lot, and where what is left of it is."""

    lot = serializers.CharField(source="code", help_text="code of the lot")
    item = serializers.CharField(source="item_code", help_text="code of the SKU, material or part")
    supplier_lot = serializers.CharField(help_text="the supplier's own code of the lot")
    run = serializers.CharField(
        source="run_code", allow_null=True, help_text="code of the run that wound it; null: delivered or opening stock"
    )
    is_held = serializers.BooleanField(help_text="held for quality: cannot be used or shipped")
    places = LotPlaceSerializer(many=True, help_text="where it lies")


class OvenLoadSerializer(serializers.Serializer[Any]):
    """One load of an oven."""

    load = serializers.CharField(source="code", help_text="code of the load")
    oven = serializers.CharField(source="oven_code", help_text="code of the oven")
    loaded_at = serializers.DateTimeField(help_text="when it went in")
    ready_at = serializers.DateTimeField(help_text="dry; packing before is refused")
    temperature_c = serializers.IntegerField(help_text="of the oven")
    hours = serializers.FloatField(help_text="of drying")
    spools = MovementLineSerializer(many=True, help_text="what it is about, row by row")


class OnCartSerializer(serializers.Serializer[Any]):
    """Spools of one lot on a cart."""

    lot = serializers.CharField(source="lot_code", help_text="code of the lot")
    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    quantity = serializers.IntegerField(source="spools", help_text="spools")


class CartSerializer(serializers.Serializer[Any]):
    """One cart, and what stands on it."""

    cart = serializers.CharField(source="code", help_text="code of the cart, as its bar code says")
    load = serializers.CharField(
        source="load_code",
        allow_null=True,
        help_text="code of the oven load it belongs to until it is packed; null: none",
    )
    oven = serializers.CharField(source="oven_code", allow_null=True, help_text="code of the oven of that load")
    ready_at = serializers.DateTimeField(allow_null=True, help_text="when that load is dry")
    is_out = serializers.BooleanField(help_text="that load is out of the oven, and waits to be packed")
    spools = OnCartSerializer(source="rows", many=True, help_text="what stands on it, by lot")


class CartPageSerializer(serializers.Serializer[Any]):
    """A page of carts, as they stand."""

    next = serializers.URLField(allow_null=True, help_text="address of the page after this one; null: this is the last")
    results = CartSerializer(many=True, help_text="rows of the page")
