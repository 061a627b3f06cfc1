"""Shapes of stock."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.chosen_fields import ChosenFieldsSerializer, FieldNamesField
from inventory.api.fields import AsOfQuery, InstantField, TextField
from inventory.api.pages import DEFAULT_PAGE_ROWS, MAX_PAGE_ROWS, PageQuery, PageSerializer


class PipelineSerializer(serializers.Serializer[Any]):
    """Spools on their way to the shelf."""

    ship_day = serializers.DateField(help_text="first ship day that they can serve")
    quantity = serializers.IntegerField(help_text="spools")
    free = serializers.IntegerField(help_text="not yet promised to an order")


class StockSerializer(serializers.Serializer[Any]):
    """Stock of one SKU."""

    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    name = serializers.CharField(help_text="as the catalogue has it")
    gtin = serializers.CharField(allow_null=True, help_text="GTIN on the box, with its check digit")
    material = serializers.CharField(help_text="name of the material")
    colour_name = serializers.CharField(help_text="name of the colour")
    hex = serializers.CharField(help_text="#RRGGBB")
    diameter_mm = serializers.FloatField(help_text="nominal diameter")
    net_g = serializers.IntegerField(help_text="net mass of one spool")
    is_stocked = serializers.BooleanField(help_text="false: made to order")
    shelf_place = serializers.CharField(help_text="where on the shelf")
    on_shelf = serializers.IntegerField(help_text="packed, released, countable spools")
    allocated = serializers.IntegerField(help_text="of them promised to orders")
    free = serializers.IntegerField(help_text="on_shelf less allocated")
    pipeline = PipelineSerializer(many=True, help_text="spools on their way, by ship day")
    next_arrival = serializers.DateField(allow_null=True, help_text="first ship day of the pipeline")
    order_now_ships_on = serializers.DateField(
        allow_null=True, help_text="ship day of one spool ordered at as_of; null: nothing free is planned"
    )
    changed_at = serializers.DateTimeField(
        allow_null=True, help_text="when the books last learned of a change; null: never"
    )


class StockRowSerializer(ChosenFieldsSerializer, StockSerializer):
    """Stock of one SKU of a list."""


class StockQuery(PageQuery, AsOfQuery):
    """Which stock to list."""

    sku = serializers.ListField(
        child=TextField(max_length=32),
        required=False,
        max_length=200,
        help_text="these SKUs; repeat it",
    )
    search = TextField(
        required=False,
        max_length=80,
        help_text="words of code, name, material, colour, GTIN; any order, slight misspelling",
    )
    changed_since = InstantField(required=False, help_text="rows that changed at this instant or later")
    fields = FieldNamesField(StockRowSerializer)  # type: ignore[assignment]  # a declared field, not the attribute of the serializer


class StockChangeSerializer(StockSerializer):
    """What of an SKU's stock can change, as it stands."""

    def get_fields(self) -> dict[str, Any]:
        """Leave out what the catalogue says, and what depends on the hour of the question."""
        kept = ("sku", "on_shelf", "allocated", "free", "pipeline", "next_arrival", "changed_at")
        return {name: field for name, field in super().get_fields().items() if name in kept}


class StockChangesQuery(serializers.Serializer[Any]):
    """Which changes of stock to tell."""

    cursor = serializers.RegexField(
        r"^[0-9]{1,18}-[0-9]{1,18}$",
        required=False,
        help_text="as the answer before gave it; left out: every SKU that has stock or had some",
    )
    limit = serializers.IntegerField(
        required=False, default=DEFAULT_PAGE_ROWS, min_value=1, max_value=MAX_PAGE_ROWS, help_text="rows of an answer"
    )


class StockChangesSerializer(serializers.Serializer[Any]):
    """SKUs whose stock changed, each once, as it stands now."""

    cursor = serializers.CharField(help_text="send it with the next question; it only grows")
    has_more = serializers.BooleanField(help_text="more changes wait already")
    results = StockChangeSerializer(many=True, help_text="in the order of their changes")


class StockPageSerializer(PageSerializer):
    """A page of stock."""

    results = StockRowSerializer(many=True, help_text="rows of the page")
