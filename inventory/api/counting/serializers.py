"""Shapes of count sheets, of the accuracy of the records, and of what to count next."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from rest_framework import serializers

from inventory.api.fields import (
    MAX_SPOOLS,
    AsOfQuery,
    CodeField,
    CountField,
    NoteField,
    NumberField,
    OccurredSerializer,
    TextField,
)
from inventory.models import CountLine

MAX_LINES = 500
MAX_NEXT = 100


class ShareField(NumberField):
    """A share from 0 to below 1, kept to a hundredth of a per cent."""

    smallest = Decimal("0.0001")


class CountSheetBody(OccurredSerializer):
    """What to count: SKUs by their codes, or all that belong to shelf places."""

    skus = serializers.ListField(
        child=CodeField(), required=False, default=list, max_length=MAX_LINES, help_text="codes of the SKUs"
    )
    places = serializers.ListField(
        child=TextField(max_length=16),
        required=False,
        default=list,
        max_length=MAX_LINES,
        help_text="shelf places; all SKUs that belong there",
    )
    tolerance_share = ShareField(
        required=False,
        default=0,
        min_value=0,
        max_value=0.9999,
        help_text="a difference up to this share of the books needs no second count; left out: none is tolerated",
    )


class SheetCountBody(OccurredSerializer):
    """What was found of one SKU of a sheet."""

    sku = CodeField(help_text="code of the SKU")
    counted = CountField(min_value=0, max_value=MAX_SPOOLS, help_text="spools that lie on the shelf")
    note = NoteField(max_length=100, help_text="what explains it")


class CloseSheetBody(OccurredSerializer):
    """What is not settled of a sheet is dropped from it."""


class CountedSerializer(serializers.Serializer[Any]):
    """What became of a count. It does not say what the books hold."""

    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    counts = serializers.IntegerField(help_text="counts of this line so far")
    state = serializers.ChoiceField(choices=CountLine.State.choices, help_text="settled, or to be counted again")


class CountLineSerializer(serializers.Serializer[Any]):
    """One line of a count sheet."""

    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    name = serializers.CharField(help_text="as the catalogue has it")
    place = serializers.CharField(source="shelf_place", help_text="where it belongs on the shelf")
    value_class = serializers.CharField(help_text="A, B or C by the value of a year's demand")
    state = serializers.ChoiceField(choices=CountLine.State.choices, help_text="how far its count is")
    counts = serializers.IntegerField(help_text="counts so far")
    counted = serializers.IntegerField(
        source="counted_spools", allow_null=True, help_text="spools of the count that settled it; null: not settled"
    )
    book = serializers.IntegerField(
        source="book_spools", allow_null=True, help_text="spools in the books at that count; null: not settled"
    )
    movement = serializers.IntegerField(
        source="movement_id", allow_null=True, help_text="movement that posted the difference; null: none"
    )


class CountSheetSerializer(serializers.Serializer[Any]):
    """One count sheet."""

    id = serializers.IntegerField(help_text="of the sheet")
    sheet = serializers.CharField(source="code", help_text="code of the sheet")
    opened_at = serializers.DateTimeField(help_text="when it was opened")
    closed_at = serializers.DateTimeField(allow_null=True, help_text="what was not settled by then was dropped")
    tolerance_share = serializers.FloatField(help_text="differences up to this share of the books are believed at once")
    waiting = serializers.IntegerField(help_text="lines that are still to be counted")
    lines = CountLineSerializer(many=True, help_text="in the order of their places")


class CountSheetPageSerializer(serializers.Serializer[Any]):
    """A page of count sheets, as they stand."""

    next = serializers.URLField(allow_null=True, help_text="address of the page after this one; null: this is the last")
    results = CountSheetSerializer(many=True, help_text="rows of the page")


class NoQuery(serializers.Serializer[Any]):
    """A read that takes no query parameter."""


class AccuracyQuery(AsOfQuery):
    """Counts of which days."""

    first = serializers.DateField(help_text="settled on this day of the plant or later")
    last = serializers.DateField(help_text="settled on this day of the plant or earlier")


class AccuracySerializer(serializers.Serializer[Any]):
    """How right the records of a group were."""

    group = serializers.CharField(help_text="shelf place or class")
    counted_lines = serializers.IntegerField(help_text="settled lines")
    exact_lines = serializers.IntegerField(help_text="of them without a difference")
    within_lines = serializers.IntegerField(help_text="of them within the tolerance of their sheet")
    accuracy_share = serializers.FloatField(help_text="within_lines / counted_lines")
    book_spools = serializers.IntegerField(help_text="spools in the books of these lines")
    net_spools = serializers.IntegerField(help_text="sum of the differences, found less missing")
    absolute_spools = serializers.IntegerField(help_text="sum of the differences without their signs")


class CountAccuracySerializer(serializers.Serializer[Any]):
    """How right the records were when they were counted."""

    as_of = serializers.DateTimeField(help_text="the instant as of which the books were read")
    by_place = AccuracySerializer(many=True, help_text="by shelf place")
    by_class = AccuracySerializer(many=True, help_text="by class of value")


class NextCountQuery(AsOfQuery):
    """How many SKUs to name."""

    limit = serializers.IntegerField(
        required=False, default=20, min_value=1, max_value=MAX_NEXT, help_text="SKUs that are named"
    )


class NextCountSerializer(serializers.Serializer[Any]):
    """A SKU that is worth counting."""

    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    name = serializers.CharField(help_text="as the catalogue has it")
    place = serializers.CharField(source="shelf_place", help_text="where it belongs on the shelf")
    value_class = serializers.CharField(help_text="A, B or C by the value of a year's demand")
    last_counted_at = serializers.DateTimeField(allow_null=True, help_text="null: never")
    movements = serializers.IntegerField(help_text="lines of movements on the shelf since then")
    chance_wrong = serializers.FloatField(help_text="that the record is wrong by now")
    order_lines_per_day = serializers.FloatField(help_text="over the last 91 days")
    risk = serializers.FloatField(help_text="order lines a day that are promised from a wrong record")
    reason = serializers.CharField(help_text="why, in one sentence")


class NextCountsSerializer(serializers.Serializer[Any]):
    """What to count next."""

    as_of = serializers.DateTimeField(help_text="the instant as of which the books were read")
    results = NextCountSerializer(many=True, help_text="by falling risk")
