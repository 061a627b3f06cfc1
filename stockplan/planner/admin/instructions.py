"""What the planner decided: instructions, announced demand and figures accepted. Each is changed on its own page."""

from __future__ import annotations

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin
from stockplan.planner.models import AcceptedFigures, AnnouncedDemand, PlannerInstruction


@admin.register(PlannerInstruction)
class PlannerInstructionAdmin(ReadOnlyAdmin):
    group = "Planning"
    purpose = _(
        "What the planner fixed by hand, in force and withdrawn. Given and withdrawn on the page of the filament."
    )
    list_display = [
        "filament",
        "kind",
        "line",
        "place",
        "sku",
        "spools",
        "last_day",
        "note",
        "created_by",
        "withdrawn_at",
    ]
    list_filter = ["kind", ("withdrawn_at", admin.EmptyFieldListFilter)]
    list_select_related = ["filament", "line", "sku__item", "created_by"]
    search_fields = ["filament__code", "note"]


@admin.register(AnnouncedDemand)
class AnnouncedDemandAdmin(ReadOnlyAdmin):
    group = "Planning"
    purpose = _("What makes demand differ on some days, announced on its page beside the forecast.")
    list_display = ["name", "first_day", "last_day", "factor", "material", "filament", "created_by", "withdrawn_at"]
    list_filter = [("withdrawn_at", admin.EmptyFieldListFilter)]
    list_select_related = ["material", "filament", "created_by"]
    search_fields = ["name", "filament__code", "material__code"]


@admin.register(AcceptedFigures)
class AcceptedFiguresAdmin(ReadOnlyAdmin):
    group = "Planning"
    purpose = _("What was entered for a line from its finished runs, by whom, and what it was before.")
    list_display = ["line", "accepted_at", "accepted_by", "runs", "availability_before", "availability", "scrap_share"]
    list_filter = ["line"]
    list_select_related = ["line", "accepted_by"]
