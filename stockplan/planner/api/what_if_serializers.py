"""Shapes of what-ifs."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.fields import CodeField, CountField, KindField, StrictSerializer
from stockplan.planner.api.serializers import SentenceField
from stockplan.planner.core.list_changes import Kind
from stockplan.planner.core.whatif import CHANGES

MOST_CHANGES = 20


class WhatIfChangeBody(StrictSerializer):
    """One thing that is otherwise."""

    change = KindField(
        list(CHANGES),
        help_text="pin takes filament and may take line, forbid takes filament, resize takes sku and spools, line_down "
        "takes line and day, rush_order takes sku, spools and day, item_late takes item and days, replan_released "
        "takes nothing",
    )
    filament = CodeField(required=False, help_text="code of the filament to make, or not to")
    line = CodeField(required=False, help_text="code of the line to make it on, or that is down")
    sku = CodeField(required=False, help_text="code of the SKU")
    spools = CountField(required=False, help_text="to make exactly, or that are ordered")
    day = serializers.DateField(required=False, help_text="local day of the standstill, or due day of the order")
    item = CodeField(required=False, help_text="code of a resin or concentrate")
    days = CountField(required=False, help_text="calendar days, today included, until it may be used")


class WhatIfBody(StrictSerializer):
    """What to change."""

    changes = serializers.ListField(
        child=WhatIfChangeBody(), min_length=1, max_length=MOST_CHANGES, help_text="made one after the other"
    )


class TriedSizeSerializer(serializers.Serializer[Any]):
    """Spools of one size on a run."""

    sku = serializers.CharField(help_text="code of the SKU")
    spools = serializers.IntegerField(help_text="how many to wind")


class TriedRunSerializer(serializers.Serializer[Any]):
    """A run of the list with the changes."""

    rank = serializers.IntegerField(help_text="place by worth")
    filament = serializers.CharField(help_text="code of the filament")
    line = serializers.CharField(help_text="code of the line")
    start = serializers.DateTimeField(help_text="start of the changeover")
    end = serializers.DateTimeField(help_text="last spool wound")
    sizes = TriedSizeSerializer(many=True, help_text="spools by size")
    misses_avoided = serializers.FloatField(help_text="expected units, marginal in rank order")
    worth_per_hour = serializers.FloatField(help_text="expected misses avoided per line hour, changeover included")
    reason = SentenceField(help_text="why it is on the list, in one sentence")


class DifferenceSerializer(serializers.Serializer[Any]):
    """A run that differs from the newest list."""

    became = serializers.ChoiceField(
        source="kind", choices=[(kind.value, kind.value) for kind in Kind], help_text="what became of it"
    )
    filament = serializers.CharField(help_text="code of the filament")
    sentence = SentenceField(help_text="the same in words")


class WhatIfSerializer(serializers.Serializer[Any]):
    """The newest list and the one with the changes, side by side."""

    as_of = serializers.DateTimeField(help_text="the instant whose facts both lists stand on: that of the newest list")
    misses_newest = serializers.FloatField(help_text="expected misses with the newest list")
    misses_before = serializers.FloatField(
        help_text="expected misses without the changes: with the newest list or a better one that the search came upon"
    )
    misses_after = serializers.FloatField(help_text="expected misses with the list that the changes give")
    price = serializers.FloatField(help_text="expected misses more with the changes")
    rush_orders = serializers.ListField(
        child=SentenceField(), help_text="when each rush order among the changes ships, in words"
    )
    differences = DifferenceSerializer(many=True, help_text="runs that differ, by their start")
    verdict = SentenceField(help_text="whether planning released runs anew pays; empty where it was not asked")
    runs = TriedRunSerializer(many=True, help_text="the list with the changes, in the order of rank")
    compute_seconds = serializers.FloatField(help_text="how long it took")
