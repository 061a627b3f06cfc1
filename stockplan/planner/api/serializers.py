"""Shapes of make lists."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.fields import CountField, InstantField, OccurredSerializer, StrictSerializer
from stockplan.planner.models import MakeList, NotListed

MAX_DAYS = 60


class MakeListBody(StrictSerializer):
    """What to compute a list for."""

    as_of = InstantField(required=False, help_text="plan with what was known then; needs the scope replay")
    days = CountField(required=False, min_value=1, max_value=MAX_DAYS, help_text="ship days that the list covers")


class ReleaseBody(OccurredSerializer):
    """The planner releases a list or one run of it to the lines."""


class ListedSizeSerializer(serializers.Serializer[Any]):
    """Spools of one size on a listed run."""

    sku = serializers.CharField(source="sku_code")
    spools = serializers.IntegerField()
    free = serializers.IntegerField(help_text="shelf less open orders due, when the list was made")
    order_up_to = serializers.IntegerField(help_text="stock target")
    misses_avoided = serializers.FloatField(help_text="expected units")


class MissingItemSerializer(serializers.Serializer[Any]):
    """Material that a run lacks."""

    item = serializers.CharField(source="item_code")
    name = serializers.CharField()
    quantity = serializers.FloatField()
    unit = serializers.CharField()
    buy_by = serializers.DateField()


class ListedRunSerializer(serializers.Serializer[Any]):
    """One run of the list: `rank` is by worth, `place_on_line` by time."""

    rank = serializers.IntegerField()
    filament = serializers.CharField(source="filament_code")
    colour_name = serializers.CharField()
    hex = serializers.CharField(source="colour_hex")
    material = serializers.CharField(source="material_code")
    diameter_mm = serializers.FloatField()
    line = serializers.CharField(source="line_code", allow_null=True)
    place_on_line = serializers.IntegerField(allow_null=True)
    start = serializers.DateTimeField(allow_null=True)
    end = serializers.DateTimeField(allow_null=True)
    shelf_at = serializers.DateTimeField(allow_null=True)
    shelf_day = serializers.DateField(allow_null=True)
    changeover_from = serializers.CharField(source="changeover_from_code", allow_null=True)
    changeover_min = serializers.FloatField()
    run_min = serializers.FloatField()
    purge_kg = serializers.FloatField()
    resin_kg = serializers.FloatField()
    concentrate_kg = serializers.FloatField()
    hopper = serializers.CharField(source="hopper_code", allow_null=True)
    drying_from = serializers.DateTimeField(allow_null=True)
    misses_avoided = serializers.FloatField(help_text="expected units, marginal in rank order")
    worth_per_hour = serializers.FloatField(help_text="expected misses avoided per line hour, changeover included")
    runs_out_on = serializers.DateField(allow_null=True)
    reason = serializers.CharField()
    is_blocked = serializers.BooleanField()
    is_pinned = serializers.BooleanField()
    missing = MissingItemSerializer(many=True)
    run = serializers.CharField(source="run_code", allow_null=True, help_text="the released run; null: not released")
    sizes = ListedSizeSerializer(many=True)


class NotListedSerializer(serializers.Serializer[Any]):
    """A filament that the list leaves out."""

    filament = serializers.CharField(source="filament_code")
    cause = serializers.ChoiceField(choices=NotListed.Cause.choices)
    sentence = serializers.CharField()


class LineDayTotalSerializer(serializers.Serializer[Any]):
    """What one line does on one day."""

    line = serializers.CharField(source="line_code")
    day = serializers.DateField()
    runs = serializers.IntegerField()
    spools = serializers.IntegerField()
    good_kg = serializers.FloatField()
    run_min = serializers.FloatField()
    changeover_min = serializers.FloatField()
    purge_kg = serializers.FloatField()
    misses_avoided = serializers.FloatField()


class MakeListSerializer(serializers.Serializer[Any]):
    """A ranked list of runs."""

    id = serializers.UUIDField()
    as_of = serializers.DateTimeField()
    created_at = serializers.DateTimeField()
    first_day = serializers.DateField()
    last_day = serializers.DateField()
    state = serializers.ChoiceField(choices=MakeList.State.choices)
    misses_without = serializers.FloatField(help_text="expected units missed if nothing is made")
    misses_with = serializers.FloatField(help_text="expected units missed with this list")
    hours_short_per_week = serializers.FloatField()
    assumptions = serializers.ListField(child=serializers.CharField())
    compute_seconds = serializers.FloatField()
    runs = ListedRunSerializer(many=True)
    not_listed = NotListedSerializer(many=True)
    totals = LineDayTotalSerializer(many=True)
