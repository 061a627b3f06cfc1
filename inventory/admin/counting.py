"""Count sheets, to look at. Not for who counts: a count is blind."""

from __future__ import annotations

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin, shown
from inventory.models import CountLine, CountSheet


@admin.register(CountSheet)
class CountSheetAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("Rounds of counting on the shelf. Its lines have a list of their own, which who counts does not see.")
    list_display = ["code", "opened_at", "opened_by", "closed_at", shown("tolerance_share")]
    list_select_related = ["opened_by"]
    search_fields = ["code"]
    date_hierarchy = "opened_at"


@admin.register(CountLine)
class CountLineAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("What each SKU was counted to, and what the books said then. A difference was posted as a movement.")
    list_display = [
        "sheet",
        "sku",
        "shelf_place",
        shown("value_class", words=_("Class")),
        "state",
        shown("counted_spools", words=_("Counted")),
        shown("book_spools", words=_("In the books")),
        "settled_at",
    ]
    list_filter = ["state", "value_class"]
    list_select_related = ["sheet", "sku__item"]
    search_fields = ["sheet__code", "sku__item__code", "sku__item__name"]
