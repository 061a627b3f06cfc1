"""Shapes of the catalogue."""

from __future__ import annotations

from rest_framework import serializers

from inventory.api.chosen_fields import ChosenFieldsSerializer, FieldNamesField
from inventory.api.fields import AsOfQuery, TextField
from inventory.api.pages import PageQuery, PageSerializer


class SkuSerializer(ChosenFieldsSerializer):
    """One SKU."""

    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    name = serializers.CharField(help_text="as the catalogue has it")
    gtin = serializers.CharField(allow_null=True, help_text="GTIN on the box, with its check digit")
    filament = serializers.CharField(source="filament_code", help_text="code of the filament")
    material = serializers.CharField(source="material_code", help_text="code of the material")
    colour = serializers.CharField(source="colour_code", help_text="code of the colour")
    colour_name = serializers.CharField(help_text="name of the colour")
    hex = serializers.CharField(help_text="#RRGGBB")
    diameter_mm = serializers.FloatField(help_text="nominal diameter")
    net_g = serializers.IntegerField(help_text="net mass of one spool")
    is_stocked = serializers.BooleanField(help_text="false: made to order")
    active_from = serializers.DateField(help_text="first day on sale")
    active_to = serializers.DateField(allow_null=True, help_text="last day on sale")
    is_on_sale = serializers.BooleanField(help_text="on sale as of the instant")


class SkuQuery(PageQuery, AsOfQuery):
    """Which SKUs to list."""

    material = TextField(required=False, max_length=32, help_text="code of the material")
    search = TextField(
        required=False,
        max_length=80,
        help_text="words of code, name, material, colour, GTIN; any order, slight misspelling",
    )
    on_sale = serializers.BooleanField(required=False)
    fields = FieldNamesField(SkuSerializer)  # type: ignore[assignment]  # a declared field, not the attribute of the serializer


class SkuPageSerializer(PageSerializer):
    """A page of SKUs."""

    results = SkuSerializer(many=True, help_text="rows of the page")
