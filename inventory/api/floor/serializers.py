"""Shapes of what the floor reports."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.chosen_fields import ChosenFieldsSerializer, FieldNamesField
from inventory.api.fields import (
    MAX_SPOOLS,
    AsOfQuery,
    CodeField,
    CountField,
    InstantField,
    KindField,
    NoteField,
    NumberField,
    OccurredSerializer,
    StrictSerializer,
    TextField,
    rows_of,
)
from inventory.api.pages import IdPageQuery, PageSerializer
from inventory.errors import InvalidInputError
from inventory.models import Place, Run
from inventory.rules.flows import ONE_OF_A_KIND

MAX_ROWS = 1_000
MAX_KG = 100_000
MAX_MINUTES = 30 * 24 * 60
OPEN_PLACES = [kind.value for kind in Place.Kind if kind in ONE_OF_A_KIND]


class LotField(TextField):
    """Code of a lot: printable ASCII."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=40, **kwargs)


class StartRunBody(OccurredSerializer):
    """A run starts."""

    drying_from = InstantField(
        required=False, help_text="when its resin went into the hopper; left out: as the run was planned"
    )


class SpoolsBySkuField(serializers.DictField):
    """Spools by SKU code."""

    child = CountField(min_value=0, max_value=MAX_SPOOLS)


class FinishRunBody(OccurredSerializer):
    """What came of a run."""

    good = SpoolsBySkuField(help_text="good spools by SKU code")
    scrap = SpoolsBySkuField(default=dict, help_text="spools scrapped, by SKU code")
    real_minutes = NumberField(min_value=0, max_value=MAX_MINUTES, help_text="from changeover to the last spool")
    purge_kg = NumberField(min_value=0, max_value=MAX_KG, help_text="purged at the changeover and during the run")
    resin_kg = NumberField(
        required=False,
        min_value=0,
        max_value=MAX_KG,
        help_text="resin as weighed out; left out: what came out of the run, and then the mass check says nothing",
    )
    concentrate_kg = NumberField(
        required=False, min_value=0, max_value=MAX_KG, help_text="concentrate as weighed out; left out: as for resin"
    )


class CancelRunBody(OccurredSerializer):
    """A released run will not be made."""


class RescheduleRunBody(OccurredSerializer):
    """A released run moves; its promises move with it."""

    planned_start = InstantField(help_text="start of the changeover")
    planned_end = InstantField(help_text="last spool wound")


class SpoolsBody(StrictSerializer):
    """Spools of one SKU, and where they come from."""

    source = TextField(  # type: ignore[assignment]  # a declared field, not the attribute of the serializer
        required=False, max_length=40, help_text="code of the run that wound them or of their lot; left out: the oldest"
    )
    sku = CodeField(help_text="code of the SKU")
    quantity = CountField(min_value=1, max_value=MAX_SPOOLS, help_text="spools")


class OvenLoadBody(OccurredSerializer):
    """Wound spools go into an empty oven: named one by one, or all that stands on some carts."""

    oven = CodeField(help_text="code of the oven")
    spools = rows_of(SpoolsBody, at_most=MAX_ROWS, required=False, help_text="what it is about, row by row")
    carts = serializers.ListField(
        child=CodeField(),
        required=False,
        min_length=1,
        max_length=MAX_ROWS,
        help_text="in place of spools: codes of carts, as their bar codes say, that go in with all on them",
    )
    temperature_c = CountField(required=False, min_value=1, max_value=200, help_text="left out: the oven's own")
    hours = NumberField(required=False, min_value=0, max_value=240, help_text="left out: the longest that one needs")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a body that names spools and carts, or neither."""
        return _one_of(attrs, "spools", "carts")


class UnloadCartBody(OccurredSerializer):
    """A cart comes out of its oven, with the whole load."""


class PackBody(OccurredSerializer):
    """Dried spools are packed and put on the shelf: named one by one, or all that stands on a cart."""

    spools = rows_of(SpoolsBody, at_most=MAX_ROWS, required=False, help_text="what it is about, row by row")
    cart = CodeField(
        required=False, help_text="in place of spools: code of a cart out of the oven, which is empty afterwards"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a body that names spools and a cart, or neither."""
        return _one_of(attrs, "spools", "cart")


def _one_of(attrs: dict[str, Any], one: str, other: str) -> dict[str, Any]:
    if (one in attrs) == (other in attrs):
        raise InvalidInputError("Give either {one} or {other}.", one=one, other=other, pointer=f"/{one}")
    return attrs


class CountBody(OccurredSerializer):
    """What was found at a place. Name the lot, or the count is spread over the item's lots, oldest first."""

    item = CodeField(help_text="code of the SKU, material or part")
    place = KindField(
        choices=OPEN_PLACES,
        help_text="kind of place that was counted; answers name a place by its code, such as SHELF",
    )
    lot = LotField(required=False, help_text="code of the lot; left out: all lots of the item")
    counted = NumberField(min_value=0, max_value=10_000_000, help_text="spools, kg or pieces that are there")
    reason = TextField(max_length=200, help_text="why it was counted")


class ReceiptBody(OccurredSerializer):
    """Material or parts arrive from a supplier."""

    item = CodeField(help_text="code of the material or part")
    quantity = NumberField(min_value=0, max_value=10_000_000, help_text="kg or pieces")
    lot = LotField(help_text="our code of the lot")
    supplier_lot = NoteField(max_length=60, help_text="the supplier's own code of the lot")
    document = NoteField(max_length=80, help_text="delivery note")


class ScrapBody(OccurredSerializer):
    """Stock that is thrown away. Name the lot, or the oldest lots go first."""

    item = CodeField(help_text="code of the SKU, material or part")
    place = KindField(choices=OPEN_PLACES, help_text="kind of place that it leaves")
    lot = LotField(required=False, help_text="code of the lot; left out: oldest lots first")
    quantity = NumberField(min_value=0, max_value=10_000_000, help_text="spools, kg or pieces")
    reason = TextField(max_length=200, help_text="why")


class TakenBody(OccurredSerializer):
    """Spools that leave the shelf without an order. Name the lot, or the oldest lots go first."""

    sku = CodeField(help_text="code of the SKU")
    quantity = CountField(min_value=1, max_value=MAX_SPOOLS, help_text="spools")
    lot = LotField(required=False, help_text="code of the lot; left out: oldest lots first")
    reason = TextField(max_length=200, help_text="what for")


class ReturnBody(OccurredSerializer):
    """Spools of one lot that a customer sent back, or that were inspected since."""

    sku = CodeField(help_text="code of the SKU")
    lot = LotField(help_text="code of the lot, as on the spool")
    quantity = CountField(min_value=1, max_value=MAX_SPOOLS, help_text="spools")
    reason = NoteField(max_length=200, help_text="why")


class HoldBody(OccurredSerializer):
    """A lot is held for quality, wherever it is."""

    lot = LotField(help_text="code of the lot")
    reason = TextField(max_length=200, help_text="why it is held")


class ReleaseHoldBody(OccurredSerializer):
    """A held lot is good."""

    reason = TextField(max_length=200, help_text="why it is good")


class RunOutputSerializer(serializers.Serializer[Any]):
    """The spools of one SKU of a run."""

    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    planned = serializers.IntegerField(help_text="spools ordered from the line")
    good = serializers.IntegerField(allow_null=True, help_text="null until the run is finished")
    scrap = serializers.IntegerField(allow_null=True, help_text="spools scrapped")
    awaited = serializers.IntegerField(help_text="still to reach the shelf")
    allocated = serializers.IntegerField(help_text="of the awaited ones, promised to orders")
    shelf_at = serializers.DateTimeField(help_text="when its spools are expected on the shelf")
    shelf_day = serializers.DateField(help_text="first ship day that they can serve")


class RunSerializer(serializers.Serializer[Any]):
    """One run."""

    run = serializers.CharField(source="code", help_text="code of the run")
    id = serializers.IntegerField(help_text="of the run")
    filament = serializers.CharField(source="filament_code", help_text="code of the filament")
    line = serializers.CharField(source="line_code", help_text="code of the line")
    state = serializers.ChoiceField(choices=Run.State.choices, help_text="released, started, finished or cancelled")
    planned_start = serializers.DateTimeField(help_text="start of the changeover")
    planned_end = serializers.DateTimeField(help_text="last spool wound")
    drying_from = serializers.DateTimeField(allow_null=True, help_text="when the resin goes into the hopper")
    hopper = serializers.CharField(source="hopper_code", allow_null=True, help_text="code of the hopper")
    changeover_from = serializers.CharField(
        source="changeover_from_code", allow_null=True, help_text="filament that the line holds before"
    )
    changeover_min = serializers.FloatField(help_text="minutes of changeover")
    planned_purge_kg = serializers.FloatField(help_text="purge that the changeover needs")
    started_at = serializers.DateTimeField(allow_null=True, help_text="null until it starts")
    finished_at = serializers.DateTimeField(allow_null=True, help_text="null until it is finished")
    cancelled_at = serializers.DateTimeField(allow_null=True, help_text="null unless it is cancelled")
    real_minutes = serializers.FloatField(allow_null=True, help_text="null until it is finished")
    purge_kg = serializers.FloatField(allow_null=True, help_text="null until it is finished")
    mass_in_kg = serializers.FloatField(allow_null=True, help_text="resin and concentrate used")
    mass_out_kg = serializers.FloatField(allow_null=True, help_text="good, scrap and purge")
    is_mass_flagged = serializers.BooleanField(help_text="the two masses differ by more than the tolerance")
    outputs = RunOutputSerializer(many=True, help_text="its spools, by SKU")


class RunRowSerializer(ChosenFieldsSerializer, RunSerializer):
    """A run of a list."""


class RunQuery(IdPageQuery, AsOfQuery):
    """Which runs to list."""

    state = KindField(choices=Run.State.choices, required=False)
    line = TextField(required=False, max_length=32, help_text="code of the line")
    filament = TextField(required=False, max_length=32, help_text="code of the filament")
    fields = FieldNamesField(RunRowSerializer)  # type: ignore[assignment]  # a declared field, not the attribute of the serializer


class RunPageSerializer(PageSerializer):
    """A page of runs."""

    results = RunRowSerializer(many=True, help_text="rows of the page")
