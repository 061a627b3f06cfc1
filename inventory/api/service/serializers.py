"""Shapes of the service report."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.fields import AsOfQuery
from inventory.rules.service import MissReason


class ServiceQuery(AsOfQuery):
    """Between which due days."""

    first = serializers.DateField(help_text="first due day")
    last = serializers.DateField(help_text="last due day")


class ShareSerializer(serializers.Serializer[Any]):
    """How many of how many."""

    complete = serializers.IntegerField(help_text="shipped complete on the day")
    due = serializers.IntegerField(help_text="the denominator")
    share = serializers.FloatField(allow_null=True, help_text="complete over due; null: nothing was due")


class SharesSerializer(serializers.Serializer[Any]):
    """The same promise measured three ways."""

    units = ShareSerializer()
    lines = ShareSerializer()
    orders = ShareSerializer()


class ReasonCountSerializer(serializers.Serializer[Any]):
    """How much was missed for one reason."""

    reason = serializers.ChoiceField(choices=[reason.value for reason in MissReason])
    sentence = serializers.CharField()
    lines = serializers.IntegerField()
    units = serializers.IntegerField()


class MissSerializer(serializers.Serializer[Any]):
    """A line that did not ship complete on its day."""

    order = serializers.IntegerField(source="order_id")
    channel = serializers.CharField()
    reference = serializers.CharField()
    line_no = serializers.IntegerField()
    sku = serializers.CharField(source="sku_code")
    day = serializers.DateField(help_text="its due day; made to order: the day quoted")
    is_made_to_order = serializers.BooleanField()
    wanted = serializers.IntegerField(help_text="spools")
    in_time = serializers.IntegerField(help_text="of them shipped by that day")
    reason = serializers.ChoiceField(choices=[reason.value for reason in MissReason])
    sentence = serializers.CharField()


class ServiceReportSerializer(serializers.Serializer[Any]):
    """Do we keep the promise?"""

    first = serializers.DateField()
    last = serializers.DateField()
    as_of = serializers.DateTimeField()
    stocked = SharesSerializer(help_text="against the due day")
    made_to_order = SharesSerializer(help_text="against the day quoted")
    not_yet_due_lines = serializers.IntegerField(help_text="their pick-up is ahead; in no share")
    unquoted_lines = serializers.IntegerField(help_text="made to order and without a day yet; in no share")
    reasons = ReasonCountSerializer(many=True)
    misses = MissSerializer(many=True)
