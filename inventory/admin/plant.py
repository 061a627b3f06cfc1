"""The plant: its parameters, working time, lines, dryers and ovens."""

from __future__ import annotations

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyInline, filter_of, shown
from inventory.admin.rules_form import WordedAdmin, WordedInline
from inventory.models import (
    Cart,
    CartSpools,
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
    group = "Plant"
    purpose = _("Name, time zone, target and rules of this plant. Every plan reads them.")
    schema = files.PARAMETERS
    keys = files.PARAMETER_KEYS
    list_display = ["name", "time_zone", shown("currency"), shown("target_share"), shown("review_days")]

    def has_add_permission(self, request: HttpRequest) -> bool:
        """There is one plant; load_plant makes it."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


@admin.register(WorkDay)
class WorkDayAdmin(WordedAdmin):
    group = "Plant"
    purpose = _(
        "The clock of a working day: cut-off, pick-up, when ovens are loaded, from when spools are packed and on "
        "the shelf."
    )
    schema = files.WORK_DAYS
    list_display = ["weekday", "cut_off", "pick_up", "oven_load_at", "pack_from", "shelf_ready", shown("pack_spools")]


@admin.register(Closure)
class ClosureAdmin(WordedAdmin):
    group = "Plant"
    purpose = _("Days on which nothing ships and no line runs, besides the public holidays.")
    schema = files.CLOSURES
    list_display = ["day", "reason"]
    date_hierarchy = "day"
    search_fields = ["reason"]


class ShiftInline(WordedInline):
    model = Shift
    schema = files.SHIFTS


@admin.register(Line)
class LineAdmin(WordedAdmin):
    group = "Plant"
    purpose = _("The extrusion lines with their shifts, and which filament each holds now.")
    schema = files.LINES
    list_display = [
        "code",
        "name",
        "holds",
        shown("extruder_kg_h"),
        shown("availability", words=_("Share of the shift that it runs"), decimals=2),
        shown("runs_unattended", is_claim=True),
        shown("is_active", words=_("In use"), is_claim=True),
    ]
    list_filter = [filter_of("is_active", words=_("in use"))]
    list_select_related = ["holds"]
    search_fields = ["code", "name"]
    autocomplete_fields = ["holds"]
    inlines = [ShiftInline]


@admin.register(LineSpeed)
class LineSpeedAdmin(WordedAdmin):
    group = "Plant"
    purpose = _("Which line can make which filament, and how fast the strand is drawn.")
    schema = files.LINE_SPEEDS
    list_display = ["filament", "line", shown("speed_m_min"), "strands"]
    list_filter = ["line", "filament__material", "filament__diameter"]
    list_select_related = ["line", "filament"]
    search_fields = ["filament__code"]
    autocomplete_fields = ["line", "filament"]


@admin.register(Changeover)
class ChangeoverAdmin(WordedAdmin):
    group = "Plant"
    purpose = _("Changeovers that differ from the plant's general rule. No line named: it holds on every line.")
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
    group = "Plant"
    purpose = _("Resin dryers with their hoppers. A run starts when its resin has been dried for its hours.")
    schema = files.DRYERS
    list_display = ["code", "name"]
    inlines = [HopperInline]


@admin.register(Oven)
class OvenAdmin(WordedAdmin):
    group = "Plant"
    purpose = _(
        "Ovens that dry wound spools: how many places, at what temperature. Setpoints are this plant's own data."
    )
    schema = files.OVENS
    list_display = ["code", "name", "places", shown("temperature_c")]


class CartSpoolsInline(ReadOnlyInline):
    model = CartSpools
    fields = ["lot", "spools"]
    related = ("lot",)


@admin.register(Cart)
class CartAdmin(WordedAdmin):
    group = "Plant"
    purpose = _("Carts or stacks of trays with a bar code. What stands on them the floor says on its own page.")
    schema = files.CARTS
    list_display = ["code", "oven_load"]
    list_select_related = ["oven_load"]
    fields = ["code"]
    inlines = [CartSpoolsInline]


@admin.register(Crew)
class CrewAdmin(WordedAdmin):
    group = "Plant"
    purpose = _("How many changeovers can be done at once, by weekday and hour.")
    schema = files.CREWS
    list_display = ["weekday", "start", "end", "size"]


@admin.register(Channel)
class ChannelAdmin(WordedAdmin):
    group = "Plant"
    purpose = _("Where orders come from. A channel that hides what is not available also hides demand on those days.")
    schema = CHANNELS
    list_display = ["code", "name", shown("hides_unavailable", is_claim=True)]
