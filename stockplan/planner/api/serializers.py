"""Shapes of make lists."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from forecasting.messages import Message
from inventory.api.fields import CountField, InstantField, OccurredSerializer, StrictSerializer
from stockplan.planner.models import MakeList, NotListed
from stockplan.planner.services.forecasts import MOST_LIST_DAYS
from stockplan.planner.wording import said


class SentenceField(serializers.CharField):
    """Words of the planner, in the language that the request asks for among those that the service offers."""

    def get_attribute(self, instance: Any) -> Any:
        """Return the message of a record; an empty one where none was kept, for a text is never null."""
        return super().get_attribute(instance) or Message("", {})

    def to_representation(self, value: object) -> str:
        """Put a message into words."""
        return said(value) if isinstance(value, Message) else str(value)


class MakeListBody(StrictSerializer):
    """What to compute a list for."""

    as_of = InstantField(required=False, help_text="plan with what was known then; needs the scope replay")
    days = CountField(required=False, min_value=1, max_value=MOST_LIST_DAYS, help_text="ship days that the list covers")


class ReleaseBody(OccurredSerializer):
    """The planner releases a list or one run of it to the lines."""


class ArrivalSerializer(serializers.Serializer[Any]):
    """Spools that reach the shelf together."""

    day = serializers.DateField(help_text="first ship day that they can serve")
    spools = serializers.IntegerField(help_text="how many")


class ListedSizeSerializer(serializers.Serializer[Any]):
    """Spools of one size on a listed run."""

    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    spools = serializers.IntegerField(help_text="how many to wind")
    free = serializers.IntegerField(help_text="shelf less open orders due, when the list was made")
    order_up_to = serializers.IntegerField(help_text="stock target")
    misses_avoided = serializers.FloatField(help_text="expected units")
    arrivals = ArrivalSerializer(many=True, help_text="when they are on the shelf, as ovens and packing take them")


class MissingItemSerializer(serializers.Serializer[Any]):
    """Material that a run lacks."""

    item = serializers.CharField(source="item_code", help_text="code of the SKU, material or part")
    name = serializers.CharField(help_text="as the catalogue has it")
    quantity = serializers.FloatField(help_text="how much is missing")
    unit = serializers.CharField(help_text="kg or pieces")
    buy_by = serializers.DateField(help_text="the day to buy it by")


class ListedRunSerializer(serializers.Serializer[Any]):
    """One run of the list: `rank` is by worth, `place_on_line` by time."""

    rank = serializers.IntegerField(help_text="place by worth")
    filament = serializers.CharField(source="filament_code", help_text="code of the filament")
    colour_name = serializers.CharField(help_text="name of the colour")
    hex = serializers.CharField(source="colour_hex", help_text="the colour as #RRGGBB")
    material = serializers.CharField(source="material_code", help_text="code of the material")
    diameter_mm = serializers.FloatField(help_text="nominal diameter")
    line = serializers.CharField(source="line_code", allow_null=True, help_text="code of the line; null: blocked")
    place_on_line = serializers.IntegerField(allow_null=True, help_text="place by time on its line")
    start = serializers.DateTimeField(allow_null=True, help_text="start of the changeover")
    end = serializers.DateTimeField(allow_null=True, help_text="last spool wound")
    shelf_at = serializers.DateTimeField(allow_null=True, help_text="when its spools are expected on the shelf")
    shelf_day = serializers.DateField(allow_null=True, help_text="first ship day that they can serve")
    changeover_from = serializers.CharField(
        source="changeover_from_code", allow_null=True, help_text="filament that the line holds before"
    )
    changeover_min = serializers.FloatField(help_text="minutes of changeover")
    run_min = serializers.FloatField(help_text="minutes of winding, start-up included")
    purge_kg = serializers.FloatField(help_text="purged")
    resin_kg = serializers.FloatField(help_text="resin needed, purge and scrap included")
    concentrate_kg = serializers.FloatField(help_text="colour concentrate needed")
    hopper = serializers.CharField(source="hopper_code", allow_null=True, help_text="code of the hopper")
    drying_from = serializers.DateTimeField(allow_null=True, help_text="when the resin goes into the hopper")
    misses_avoided = serializers.FloatField(help_text="expected units, marginal in rank order")
    worth_per_hour = serializers.FloatField(help_text="expected misses avoided per line hour, changeover included")
    runs_out_on = serializers.DateField(
        allow_null=True, help_text="the day on which the shelf is expected to run out after the runs of a better rank"
    )
    reason = SentenceField(help_text="why it is on the list, in one sentence")
    explanation = serializers.ListField(
        child=SentenceField(),
        help_text="what runs out when, what it avoids by SKU, what else its time could make, why this line and place",
    )
    more_if_dropped = serializers.FloatField(
        allow_null=True, help_text="misses more without it, all other runs in place; null: blocked, or an old list"
    )
    more_a_day_later = serializers.FloatField(
        allow_null=True, help_text="misses more with its spools shelved a ship day later; null as before"
    )
    is_blocked = serializers.BooleanField(help_text="material is missing")
    is_pinned = serializers.BooleanField(help_text="the planner wants it")
    missing = MissingItemSerializer(many=True, help_text="what a blocked run lacks")
    run = serializers.CharField(source="run_code", allow_null=True, help_text="the released run; null: not released")
    sizes = ListedSizeSerializer(many=True, help_text="spools by size")


class NotListedSerializer(serializers.Serializer[Any]):
    """A filament that the list leaves out."""

    filament = serializers.CharField(source="filament_code", help_text="code of the filament")
    cause = serializers.ChoiceField(choices=NotListed.Cause.choices, help_text="why it is left out")
    sentence = SentenceField(help_text="the same in words")


class LineDayTotalSerializer(serializers.Serializer[Any]):
    """What one line does on one day."""

    line = serializers.CharField(source="line_code", help_text="code of the line")
    day = serializers.DateField(help_text="local day on which the runs start")
    runs = serializers.IntegerField(help_text="how many")
    spools = serializers.IntegerField(help_text="of all sizes")
    good_kg = serializers.FloatField(help_text="net mass of the spools")
    run_min = serializers.FloatField(help_text="minutes of winding, start-up included")
    changeover_min = serializers.FloatField(help_text="minutes of changeover")
    purge_kg = serializers.FloatField(help_text="purged")
    misses_avoided = serializers.FloatField(help_text="expected units")


class MakeListSerializer(serializers.Serializer[Any]):
    """A ranked list of runs."""

    id = serializers.UUIDField(help_text="of the list")
    as_of = serializers.DateTimeField(help_text="the instant whose facts it stands on")
    created_at = serializers.DateTimeField(help_text="when it was computed")
    first_day = serializers.DateField(help_text="first ship day that it covers")
    last_day = serializers.DateField(help_text="last ship day that it covers")
    state = serializers.ChoiceField(choices=MakeList.State.choices, help_text="proposed, or released to the lines")
    misses_without = serializers.FloatField(
        help_text="expected misses if nothing is made: spools not shipped on their due day, the further days that late "
        "ones wait and, discounted, the days after the list included"
    )
    misses_with = serializers.FloatField(help_text="the same with this list")
    misses_on_its_days = serializers.FloatField(
        allow_null=True,
        help_text="of these, spools due on the list's days that will not ship on their due day; null: an old list",
    )
    limit = SentenceField(help_text="what limits the list most on its days")
    hours_short_per_week = serializers.FloatField(help_text="line hours a week that are missing to keep the promise")
    assumptions = serializers.ListField(child=SentenceField(), help_text="sentences")
    compute_seconds = serializers.FloatField(help_text="how long it took")
    runs = ListedRunSerializer(many=True, help_text="in the order of rank")
    not_listed = NotListedSerializer(many=True, help_text="filaments left out, and why")
    totals = LineDayTotalSerializer(many=True, help_text="by line and day")
