"""Shapes of what was measured of a run."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from rest_framework import serializers

from inventory.api.fields import AsOfQuery, NoteField, NumberField, OccurredSerializer, StrictSerializer, rows_of
from inventory.models import DiameterReport
from inventory.rules.diameter import CHART_CONSTANTS, DEFAULT_SUBGROUP_SIZE

MAX_READINGS = 5_000
MAX_SPOOLS_WEIGHED = 500


class DiameterField(NumberField):
    """A diameter in mm, kept to a tenth of a micrometre."""

    smallest = Decimal("0.0001")


class MassField(NumberField):
    """A mass in g, as a bench scale shows it."""

    smallest = Decimal("0.1")


class DiameterReadingBody(StrictSerializer):
    """One reading on one axis, or on two that are square to each other."""

    x_mm = DiameterField(min_value=0, max_value=10, help_text="diameter in mm")
    y_mm = DiameterField(required=False, min_value=0, max_value=10, help_text="on the other axis; left out: not read")


class DiametersBody(OccurredSerializer):
    """Diameters of the strand of a run, in the order of measuring."""

    source = serializers.ChoiceField(  # type: ignore[assignment]  # a declared field, not the attribute of the serializer
        choices=DiameterReport.Source.choices, help_text="who measured"
    )
    document = NoteField(max_length=80, help_text="file of the gauge, sheet of the floor")
    readings = rows_of(DiameterReadingBody, at_most=MAX_READINGS, help_text="in the order of measuring")


class WeighingsBody(OccurredSerializer):
    """What spools of one lot weigh."""

    gross_g = serializers.ListField(
        child=MassField(min_value=0, max_value=100_000),
        min_length=1,
        max_length=MAX_SPOOLS_WEIGHED,
        help_text="spool with filament, without its box; one figure a spool, in tenths of a gram",
    )


class QualityQuery(AsOfQuery):
    """How to chart the readings."""

    subgroup_size = serializers.IntegerField(
        required=False,
        default=DEFAULT_SUBGROUP_SIZE,
        min_value=min(CHART_CONSTANTS),
        max_value=max(CHART_CONSTANTS),
        help_text="consecutive readings of a subgroup of the chart",
    )


class CapabilitySerializer(serializers.Serializer[Any]):
    """How the spread fits into the tolerance."""

    cp = serializers.FloatField(help_text="tolerance over six standard deviations")
    cpk = serializers.FloatField(help_text="distance of the mean to the nearer limit over three standard deviations")


class ChartPointSerializer(serializers.Serializer[Any]):
    """One subgroup."""

    mean_mm = serializers.FloatField(help_text="mean of the subgroup")
    range_mm = serializers.FloatField(help_text="largest less least of the subgroup")
    is_mean_out = serializers.BooleanField(help_text="the mean is outside the limits of the chart")
    is_range_out = serializers.BooleanField(help_text="the range is outside the limits of the chart")


class ControlChartSerializer(serializers.Serializer[Any]):
    """X-bar/R chart."""

    subgroup_size = serializers.IntegerField(help_text="consecutive readings of a subgroup")
    centre_mm = serializers.FloatField(help_text="grand mean")
    mean_range_mm = serializers.FloatField(help_text="mean of the ranges")
    mean_lower_mm = serializers.FloatField(help_text="lower limit of the means")
    mean_upper_mm = serializers.FloatField(help_text="upper limit of the means")
    range_lower_mm = serializers.FloatField(help_text="lower limit of the ranges")
    range_upper_mm = serializers.FloatField(help_text="upper limit of the ranges")
    sigma_mm = serializers.FloatField(help_text="standard deviation within subgroups: mean range over d2")
    points = ChartPointSerializer(many=True, help_text="subgroups in the order of measuring")


class DiameterSummarySerializer(serializers.Serializer[Any]):
    """What the readings of a run say."""

    readings = serializers.IntegerField(help_text="how many")
    mean_mm = serializers.FloatField(help_text="mean diameter, of both axes where two were read")
    sd_mm = serializers.FloatField(allow_null=True, help_text="sample standard deviation; null: one reading")
    least_mm = serializers.FloatField(help_text="least on any axis")
    largest_mm = serializers.FloatField(help_text="largest on any axis")
    outside_readings = serializers.IntegerField(help_text="readings with an axis outside the tolerance")
    mean_ovality_mm = serializers.FloatField(allow_null=True, help_text="mean of |x - y|; null: one axis was read")
    largest_ovality_mm = serializers.FloatField(allow_null=True, help_text="largest |x - y|; null: one axis was read")
    within = CapabilitySerializer(
        allow_null=True, help_text="Cp and Cpk by the spread within subgroups; null: too few readings, or all equal"
    )
    overall = CapabilitySerializer(
        allow_null=True, help_text="the same by the standard deviation of all readings (Pp and Ppk)"
    )
    chart = ControlChartSerializer(allow_null=True, help_text="null: fewer than two full subgroups")


class NetMassSerializer(serializers.Serializer[Any]):
    """Weighed spools against the net mass on the label (76/211/EEC, annex I)."""

    weighed = serializers.IntegerField(help_text="spools on the scale")
    mean_net_g = serializers.FloatField(help_text="gross less empty spool, mean")
    least_net_g = serializers.FloatField(help_text="of the lightest")
    nominal_g = serializers.IntegerField(help_text="on the label")
    tolerable_error_g = serializers.FloatField(help_text="how much lighter one may be")
    short = serializers.IntegerField(help_text="lighter by more than that")
    far_short = serializers.IntegerField(help_text="lighter by more than twice that")
    passes = serializers.BooleanField(help_text="mean not below nominal, at most 2.5 % short, none far short")


class LotQualitySerializer(serializers.Serializer[Any]):
    """One lot of a run."""

    lot = serializers.CharField(source="lot_code", help_text="code of the lot")
    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    is_held = serializers.BooleanField(help_text="held for quality, as it stands now")
    net_mass = NetMassSerializer(allow_null=True, help_text="null: no spool was weighed")


class RunQualitySerializer(serializers.Serializer[Any]):
    """What was measured of a run."""

    run = serializers.CharField(source="run_code", help_text="code of the run")
    filament = serializers.CharField(source="filament_code", help_text="code of the filament")
    nominal_mm = serializers.FloatField(help_text="nominal diameter")
    lower_mm = serializers.FloatField(help_text="least that the tolerance allows")
    upper_mm = serializers.FloatField(help_text="most that the tolerance allows")
    diameter = DiameterSummarySerializer(allow_null=True, help_text="null: not measured")
    lots = LotQualitySerializer(many=True, help_text="what it wound")


class MeasuredRunSerializer(RunQualitySerializer):
    """What was measured of a run, and what the last readings put on hold."""

    held_lots = serializers.ListField(child=serializers.CharField(), help_text="lots that this report put on hold")


class WeighedLotSerializer(serializers.Serializer[Any]):
    """The net mass check of the spools just weighed."""

    lot = serializers.CharField(help_text="code of the lot")
    is_held = serializers.BooleanField(help_text="held for quality: by this check or before")
    net_mass = NetMassSerializer(help_text="of the spools of this report")
