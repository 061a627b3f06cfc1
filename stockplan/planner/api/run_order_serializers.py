"""Shapes of another order of runs."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.fields import (
    CodeField,
    CountField,
    FlagField,
    OccurredSerializer,
    PatternField,
    StrictSerializer,
    TextField,
)

MOST_MOVES = 200
RUN_PATTERN = r"^[A-Za-z0-9][A-Za-z0-9.-]{0,31}$"


class MoveBody(StrictSerializer):
    """A run and the place that it shall have."""

    run = PatternField(
        RUN_PATTERN, help_text="code of a released run; rank-3: the run of rank 3 on the newest list, not released"
    )
    line = CodeField(help_text="code of the line to make it on, its present one or another")
    place = CountField(
        min_value=0,
        max_value=10_000,
        help_text="its place among the runs of the line that have not started, from 1 on; the runs that no move names "
        "make room in their order",
    )


class RunOrderBody(OccurredSerializer):
    """Moves, made all at once."""

    moves = serializers.ListField(
        child=MoveBody(), max_length=MOST_MOVES, help_text="none: the order that stands, with its `seen`"
    )
    set = FlagField(required=False, help_text="true: write it; left out or false: say what it would cost")
    seen = TextField(
        required=False,
        max_length=64,
        help_text="of the answer that was looked at; needed to set. Where anything has moved since, 409",
    )


class OrderedRunSerializer(serializers.Serializer[Any]):
    """A run whose line, place or times differ."""

    run = serializers.CharField(source="key", help_text="as in `moves`")
    filament = serializers.CharField(help_text="code of the filament")
    is_released = serializers.BooleanField(help_text="its plan is written; else it is pinned to its place")
    line = serializers.CharField(help_text="code of the line")
    place = serializers.IntegerField(help_text="among the runs of the line that have not started")
    start = serializers.DateTimeField(
        allow_null=True, help_text="start of the changeover; null: after the last day of the list"
    )
    end = serializers.DateTimeField(allow_null=True, help_text="last spool wound; null as before")
    changeover_from = serializers.CharField(allow_null=True, help_text="filament that the line holds before")
    changeover_min = serializers.IntegerField(help_text="minutes of changeover")
    purge_kg = serializers.FloatField(help_text="purged")
    hopper = serializers.CharField(allow_null=True, help_text="code of the hopper")
    drying_from = serializers.DateTimeField(allow_null=True, help_text="when the resin goes into the hopper")
    line_before = serializers.CharField(help_text="its line in the order that stood")
    place_before = serializers.IntegerField(help_text="its place there")
    start_before = serializers.DateTimeField(allow_null=True, help_text="its start there; null as before")


class MovedPromiseSerializer(serializers.Serializer[Any]):
    """An order line whose ship day moves."""

    order = serializers.IntegerField(help_text="id of the order")
    reference = serializers.CharField(help_text="the channel's own reference")
    sku = serializers.CharField(help_text="code of the SKU")
    due_day = serializers.DateField(help_text="day on which it is due")
    day_before = serializers.DateField(allow_null=True, help_text="its ship day before; null: none was promised")
    day = serializers.DateField(allow_null=True, help_text="its ship day with this order; null: nothing covers it")
    becomes_late = serializers.BooleanField(help_text="it was to ship by its due day, and will not")


class LineOrderSerializer(serializers.Serializer[Any]):
    """The runs of a line that have not started, in their order."""

    line = serializers.CharField(help_text="code of the line")
    runs = serializers.ListField(child=serializers.CharField(), help_text="as in `moves`; place 1 first")


class RunOrderSerializer(serializers.Serializer[Any]):
    """An order of runs beside the one that stood."""

    as_of = serializers.DateTimeField(help_text="the instant whose facts both stand on")
    is_set = serializers.BooleanField(help_text="it is written; else nothing is")
    seen = serializers.CharField(help_text="of the order that stood; send it back to set this one")
    price = serializers.FloatField(help_text="expected misses more than as it stood")
    misses_before = serializers.FloatField(help_text="expected misses as it stood")
    misses_after = serializers.FloatField(help_text="expected misses with this order")
    changeover_min_before = serializers.IntegerField(help_text="minutes of all changeovers before waiting runs")
    changeover_min_after = serializers.IntegerField(help_text="the same with this order")
    purge_kg_before = serializers.FloatField(help_text="purged in all of them")
    purge_kg_after = serializers.FloatField(help_text="the same with this order")
    lines = LineOrderSerializer(many=True, help_text="every line with waiting runs, in this order")
    runs = OrderedRunSerializer(many=True, help_text="those that differ, by line and place")
    promises = MovedPromiseSerializer(many=True, help_text="order lines that ship on another day, late ones first")
