"""The plant: its parameters, working time, lines, dryers and ovens."""

from __future__ import annotations

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from inventory.admin.base import shown
from inventory.admin.rules_form import WordedAdmin, WordedInline
from inventory.models import (
    Changeover,
    Channel,
    Closure,
    Crew,
    Dryer,
    Hopper,
    Line,
    LineSpeed,
    Oven,
    PlantParameters,
    Shift,
    WorkDay,
)
from inventory.plant_files import schema_plant as files
from inventory.plant_files.schema_books import CHANNELS


@admin.register(PlantParameters)
class PlantParametersAdmin(WordedAdmin):
    schema = files.PARAMETERS
    keys = files.PARAMETER_KEYS
    list_display = ["name", "time_zone", shown("target_share"), shown("review_days")]

    def has_add_permission(self, request: HttpRequest) -> bool:
        """There is one plant; load_plant makes it."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


@admin.register(WorkDay)
class WorkDayAdmin(WordedAdmin):
    schema = files.WORK_DAYS
    list_display = ["weekday", "cut_off", "pick_up", "oven_load_at", "pack_from", "shelf_ready", shown("pack_spools")]


@admin.register(Closure)
class ClosureAdmin(WordedAdmin):
    schema = files.CLOSURES
    list_display = ["day", "reason"]
    date_hierarchy = "day"
    search_fields = ["reason"]


class ShiftInline(WordedInline):
    model = Shift
    schema = files.SHIFTS


@admin.register(Line)
class LineAdmin(WordedAdmin):
    schema = files.LINES
    list_display = ["code", "name", "holds", shown("extruder_kg_h"), "availability", "runs_unattended", "is_active"]
    list_filter = ["is_active"]
    list_select_related = ["holds"]
    search_fields = ["code", "name"]
    autocomplete_fields = ["holds"]
    inlines = [ShiftInline]


@admin.register(LineSpeed)
class LineSpeedAdmin(WordedAdmin):
    schema = files.LINE_SPEEDS
    list_display = ["filament", "line", shown("speed_m_min"), "strands"]
    list_filter = ["line", "filament__material", "filament__diameter"]
    list_select_related = ["line", "filament"]
    search_fields = ["filament__code"]
    autocomplete_fields = ["line", "filament"]


@admin.register(Changeover)
class ChangeoverAdmin(WordedAdmin):
    schema = files.CHANGEOVERS
    list_display = ["from_filament", "to_filament", "line", "minutes", shown("purge_kg")]
    list_filter = ["line"]
    list_select_related = ["line", "from_filament", "to_filament"]
    search_fields = ["from_filament__code", "to_filament__code"]
    autocomplete_fields = ["line", "from_filament", "to_filament"]


class HopperInline(WordedInline):
    model = Hopper
    schema = files.HOPPERS


@admin.register(Dryer)
class DryerAdmin(WordedAdmin):
    schema = files.DRYERS
    list_display = ["code", "name"]
    inlines = [HopperInline]


@admin.register(Oven)
class OvenAdmin(WordedAdmin):
    schema = files.OVENS
    list_display = ["code", "name", "places", shown("temperature_c")]


@admin.register(Crew)
class CrewAdmin(WordedAdmin):
    schema = files.CREWS
    list_display = ["weekday", "start", "end", "size"]


@admin.register(Channel)
class ChannelAdmin(WordedAdmin):
    schema = CHANNELS
    list_display = ["code", "name", "hides_unavailable"]
