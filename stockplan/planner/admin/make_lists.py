"""Make lists as computed, with their runs and what they left out."""

from __future__ import annotations

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyInline, filter_of, shown
from stockplan.planner.admin.messages import MessagesAdmin, in_words
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, NotListed


@admin.register(MakeList)
class MakeListAdmin(MessagesAdmin):
    group = "Planning"
    purpose = _(
        "Every make list that was computed, newest first, with the spools expected to miss their due day without "
        "it and with it. The newest one is worked with on its own page."
    )
    list_display = [
        "as_of",
        "first_day",
        "last_day",
        "state",
        shown("misses_without", decimals=1),
        shown("misses_with", decimals=1),
        shown("hours_short_per_week", words=_("Line hours short a week"), decimals=1),
        "created_by",
    ]
    list_filter = ["state"]
    list_select_related = ["created_by"]
    date_hierarchy = "as_of"


class SizeInline(ReadOnlyInline):
    model = ListedRunSize
    related = ("sku__item",)


@admin.register(ListedRun)
class ListedRunAdmin(MessagesAdmin):
    group = "Planning"
    purpose = _("The runs of every make list, by rank. Open one for its sizes and its reason.")
    list_display = [
        "rank",
        "filament",
        "line",
        "start",
        "end",
        shown("misses_avoided", decimals=1),
        shown("worth_per_hour", words=_("Misses avoided per line hour"), decimals=2),
        shown("is_blocked", is_claim=True),
        "make_list",
    ]
    list_filter = [filter_of("is_blocked"), filter_of("is_pinned"), "line"]
    list_select_related = ["make_list", "filament", "line"]
    search_fields = ["filament__code"]
    inlines = [SizeInline]


@admin.register(NotListed)
class NotListedAdmin(MessagesAdmin):
    group = "Planning"
    purpose = _("For each filament that a make list leaves out, why.")
    list_display = ["filament", "cause", in_words("sentence"), "make_list"]
    list_filter = ["cause"]
    list_select_related = ["make_list", "filament"]
    search_fields = ["filament__code"]
