"""The planner's instructions, in force and withdrawn. They are given and withdrawn on the page of the filament."""

from __future__ import annotations

from django.contrib import admin

from inventory.admin.base import ReadOnlyAdmin
from stockplan.planner.models import AnnouncedDemand, PlannerInstruction


@admin.register(PlannerInstruction)
class PlannerInstructionAdmin(ReadOnlyAdmin):
    group = "Planning"
    purpose = "What the planner fixed by hand, in force and withdrawn. Given and withdrawn on the page of the filament."
    list_display = ["filament", "kind", "line", "sku", "spools", "last_day", "note", "created_by", "withdrawn_at"]
    list_filter = ["kind", ("withdrawn_at", admin.EmptyFieldListFilter)]
    list_select_related = ["filament", "line", "sku__item", "created_by"]
    search_fields = ["filament__code", "note"]


@admin.register(AnnouncedDemand)
class AnnouncedDemandAdmin(ReadOnlyAdmin):
    group = "Planning"
    purpose = "What makes demand differ on some days, announced on its page beside the forecast."
    list_display = ["name", "first_day", "last_day", "factor", "material", "filament", "created_by", "withdrawn_at"]
    list_filter = [("withdrawn_at", admin.EmptyFieldListFilter)]
    list_select_related = ["material", "filament", "created_by"]
    search_fields = ["name", "filament__code", "material__code"]
