"""Shapes of the catalogue."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.fields import AsOfQuery, TextField
from inventory.api.pages import PageQuery, PageSerializer


class SkuQuery(PageQuery, AsOfQuery):
    """Which SKUs to list."""

    material = TextField(required=False, max_length=32, help_text="code of the material")
    search = TextField(required=False, max_length=80, help_text="words of code or name, or a GTIN")
    on_sale = serializers.BooleanField(required=False)


class SkuSerializer(serializers.Serializer[Any]):
    """One SKU."""

    sku = serializers.CharField(source="sku_code")
    name = serializers.CharField()
    gtin = serializers.CharField(allow_null=True)
    filament = serializers.CharField(source="filament_code")
    material = serializers.CharField(source="material_code")
    colour = serializers.CharField(source="colour_code")
    colour_name = serializers.CharField()
    hex = serializers.CharField(help_text="#RRGGBB")
    diameter_mm = serializers.FloatField()
    net_g = serializers.IntegerField()
    is_stocked = serializers.BooleanField(help_text="false: made to order")
    active_from = serializers.DateField()
    active_to = serializers.DateField(allow_null=True, help_text="last day on sale")
    is_on_sale = serializers.BooleanField()


class SkuPageSerializer(PageSerializer):
    """A page of SKUs."""

    results = SkuSerializer(many=True)
