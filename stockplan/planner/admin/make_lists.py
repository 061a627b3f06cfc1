"""Make lists as computed, with their runs and what they left out."""

from __future__ import annotations

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from stockplan.planner.admin.read_only import ReadOnlyAdmin
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, NotListed


@admin.register(MakeList)
class MakeListAdmin(ReadOnlyAdmin):
    list_display = ["__str__", "as_of", "state", "misses_without", "misses_with", "hours_short_per_week", "created_by"]
    list_filter = ["state"]
    list_select_related = ["created_by"]
    date_hierarchy = "as_of"


class SizeInline(admin.TabularInline):  # type: ignore[type-arg]
    model = ListedRunSize
    extra = 0
    can_delete = False

    def get_queryset(self, request: HttpRequest) -> QuerySet[ListedRunSize]:
        return super().get_queryset(request).select_related("sku__item")


@admin.register(ListedRun)
class ListedRunAdmin(ReadOnlyAdmin):
    list_display = ["make_list", "rank", "filament", "line", "start", "end", "worth_per_hour", "is_blocked", "reason"]
    list_filter = ["is_blocked", "is_pinned", "line"]
    list_select_related = ["make_list", "filament", "line"]
    search_fields = ["filament__code"]
    inlines = [SizeInline]


@admin.register(NotListed)
class NotListedAdmin(ReadOnlyAdmin):
    list_display = ["make_list", "filament", "cause", "sentence"]
    list_filter = ["cause"]
    list_select_related = ["make_list", "filament"]
    search_fields = ["filament__code"]
