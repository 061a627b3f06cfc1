"""Quality of runs as measured, to look at."""

from __future__ import annotations

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin, shown
from inventory.models import DiameterReport, SpoolWeighing


@admin.register(DiameterReport)
class DiameterReportAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _(
        "Diameters of the strand as they came in, with the limits of that time and how many readings lay outside."
    )
    list_display = ["run", "source", "lower_mm", "upper_mm", "outside_readings", "occurred_at", "posted_by", "document"]
    list_filter = ["source"]
    list_select_related = ["run", "posted_by"]
    search_fields = ["run__code", "document"]
    date_hierarchy = "occurred_at"


@admin.register(SpoolWeighing)
class SpoolWeighingAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("Full spools on the scale, without their box. Net mass is gross less the empty spool as known then.")
    list_display = [
        "lot",
        shown("lot__item__name", words=_("Of")),
        shown("gross_g"),
        shown("tare_g"),
        "occurred_at",
        "posted_by",
    ]
    list_select_related = ["lot__item", "posted_by"]
    search_fields = ["lot__code", "lot__item__code"]
    date_hierarchy = "occurred_at"
