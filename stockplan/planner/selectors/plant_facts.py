"""Catalogue and plant as plain records for the planner's core. The number of queries does not grow with the rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from inventory.models import (
    Changeover,
    Filament,
    Hopper,
    Line,
    LineSpeed,
    Material,
    Oven,
    PlantParameters,
    Sku,
)
from inventory.selectors.held_then import HeldThen, HopperThen
from stockplan.planner.core.changeover import ChangeoverRule, FilamentTraits, Override
from stockplan.planner.core.facts import FilamentFacts, HopperFacts, LineFacts, MaterialFacts, OvenFacts


def sku_records(*, filaments: Collection[str] | None = None) -> list[Sku]:
    """Return the SKUs of all or some filaments by code, with what the planner reads of them. One query."""
    related = ("item", "filament__material", "filament__colour", "filament__diameter")
    parts = ("spool_size__spool_part", "spool_size__box_item", "spool_size__desiccant_item")
    rows = Sku.objects.all() if filaments is None else Sku.objects.filter(filament__code__in=filaments)
    return list(rows.select_related(*related, *parts).order_by("item__code"))


def filament_facts(*, filaments: Collection[str] | None = None) -> tuple[FilamentFacts, ...]:
    """Return all or some filaments. One query."""
    wanted = Filament.objects.all() if filaments is None else Filament.objects.filter(code__in=filaments)
    rows = wanted.select_related("material", "colour__concentrate_item", "diameter").order_by("code")
    return tuple(
        FilamentFacts(
            traits=FilamentTraits(
                code=row.code,
                material=row.material.code,
                colour=row.colour.code,
                lab_l=float(row.colour.lab_l),
                diameter_mm=float(row.diameter.nominal_mm),
            ),
            name=f"{row.material.name} {row.colour.name} {row.diameter.nominal_mm} mm",
            let_down_share=float(row.colour.let_down_share),
            concentrate_item=row.colour.concentrate_item.code if row.colour.concentrate_item else None,
        )
        for row in rows
    )


def material_facts() -> tuple[MaterialFacts, ...]:
    """Return all materials. One query."""
    return tuple(
        MaterialFacts(
            code=row.code,
            density_g_cm3=float(row.density_g_cm3),
            resin_item=row.resin_item.code,
            resin_dry_h=float(row.resin_dry_hours),
            dried_keeps_h=float(row.dried_keeps_hours),
            spool_dry_min_c=row.spool_dry_min_c,
            spool_dry_max_c=row.spool_dry_max_c,
            spool_dry_h=float(row.spool_dry_hours),
        )
        for row in Material.objects.select_related("resin_item").order_by("code")
    )


def line_facts(then: HeldThen, *, filaments: Collection[str] | None = None) -> tuple[LineFacts, ...]:
    """Return the lines in use, what they can make of all or some filaments, and what they held then. Two queries."""
    rates: defaultdict[int, dict[str, tuple[int, float]]] = defaultdict(dict)
    speeds = LineSpeed.objects.all() if filaments is None else LineSpeed.objects.filter(filament__code__in=filaments)
    for speed in speeds.select_related("filament").order_by("filament__code"):
        rates[speed.line_id][speed.filament.code] = (speed.strands, float(speed.speed_m_min))
    return tuple(
        LineFacts(
            code=line.code,
            holds=then.filament_of_line.get(line.pk, line.holds.code if line.holds else None),
            extruder_kg_h=float(line.extruder_kg_h),
            start_up_min=float(line.start_up_min),
            scrap_share=float(line.scrap_share),
            availability=float(line.availability),
            runs_unattended=line.runs_unattended,
            rates=rates[line.pk],
        )
        for line in Line.objects.filter(is_active=True).select_related("holds").order_by("code")
    )


def hopper_facts(then: HeldThen) -> tuple[HopperFacts, ...]:
    """Return all drying hoppers with what they held then. One query."""
    rows = list(Hopper.objects.select_related("holds_material").order_by("code"))
    now = {row.pk: HopperThen(row.holds_material.code if row.holds_material else None, row.dried_since) for row in rows}
    held = now | then.hoppers
    return tuple(
        HopperFacts(
            code=row.code,
            capacity_kg=float(row.capacity_kg),
            is_continuous=row.is_continuous,
            clean_min=float(row.clean_min),
            holds_material=held[row.pk].material_code,
            dried_since=held[row.pk].dried_since,
        )
        for row in rows
    )


def oven_facts() -> tuple[OvenFacts, ...]:
    """Return all ovens. One query."""
    return tuple(
        OvenFacts(code=row.code, places=float(row.places), temperature_c=row.temperature_c)
        for row in Oven.objects.order_by("code")
    )


def changeover_overrides(*, filaments: Collection[str] | None = None) -> tuple[Override, ...]:
    """Return the pairs that the plant knows better than its rule, all or those between some filaments. One query."""
    pairs = Changeover.objects.all()
    if filaments is not None:
        pairs = pairs.filter(from_filament__code__in=filaments, to_filament__code__in=filaments)
    rows = pairs.select_related("line", "from_filament", "to_filament").order_by("pk")
    return tuple(
        Override(
            line=row.line.code if row.line else None,
            pair=(row.from_filament.code, row.to_filament.code),
            minutes=float(row.minutes),
            purge_kg=float(row.purge_kg),
        )
        for row in rows
    )


def changeover_rule(parameters: PlantParameters) -> ChangeoverRule:
    """Return the plant's general rule of changeovers."""
    return ChangeoverRule(
        material_change_min=float(parameters.material_change_min),
        diameter_change_min=float(parameters.diameter_change_min),
        colour_change_min=float(parameters.colour_change_min),
        darker_to_lighter_min=float(parameters.darker_to_lighter_min),
        purge_kg_per_hour=float(parameters.purge_kg_per_hour),
    )
