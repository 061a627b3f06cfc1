"""Shapes of the service report."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.fields import AsOfQuery
from inventory.rules.service import MissReason

MISS_REASONS = [reason.value for reason in MissReason]


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

    units = ShareSerializer(help_text="spools")
    lines = ShareSerializer(help_text="lines of orders")
    orders = ShareSerializer(help_text="whole orders")


class ReasonCountSerializer(serializers.Serializer[Any]):
    """How much was missed for one reason."""

    reason = serializers.ChoiceField(choices=MISS_REASONS, help_text="why it was missed")
    sentence = serializers.CharField(help_text="the same in words")
    lines = serializers.IntegerField(help_text="lines missed")
    units = serializers.IntegerField(help_text="spools missed")


class MissSerializer(serializers.Serializer[Any]):
    """A line that did not ship complete on its day."""

    order = serializers.IntegerField(source="order_id", help_text="id of the order")
    channel = serializers.CharField(help_text="where the order comes from")
    reference = serializers.CharField(help_text="the channel's own number of the order")
    line_no = serializers.IntegerField(help_text="number of the line in its order")
    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    day = serializers.DateField(help_text="its due day; made to order: the day quoted")
    is_made_to_order = serializers.BooleanField(help_text="the SKU is not stocked")
    wanted = serializers.IntegerField(help_text="spools")
    in_time = serializers.IntegerField(help_text="of them shipped by that day")
    reason = serializers.ChoiceField(choices=MISS_REASONS, help_text="why it was missed")
    sentence = serializers.CharField(help_text="the same in words")


class ServiceReportSerializer(serializers.Serializer[Any]):
    """Do we keep the promise?"""

    first = serializers.DateField(help_text="first due day")
    last = serializers.DateField(help_text="last due day")
    as_of = serializers.DateTimeField(help_text="the instant whose facts it stands on")
    stocked = SharesSerializer(help_text="against the due day")
    made_to_order = SharesSerializer(help_text="against the day quoted")
    not_yet_due_lines = serializers.IntegerField(help_text="their pick-up is ahead; in no share")
    unquoted_lines = serializers.IntegerField(help_text="made to order and without a day yet; in no share")
    reasons = ReasonCountSerializer(many=True, help_text="what was missed, by reason")
    misses = MissSerializer(many=True, help_text="line by line")
