"""Stops of a run under way: when its line stood still, and why."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.runs import Run


class RunStop(models.Model):
    """One stop. It is open until the line goes on or the run is finished."""

    class Reason(models.TextChoices):
        # The words of the trade; common practice, no source.
        RESIN = "resin", _("waiting for dry resin")
        BREAKAGE = "breakage", _("the strand broke")
        SCREEN = "screen", _("screen change")
        DIAMETER = "diameter", _("diameter or roundness set right")
        WINDER = "winder", _("puller or winder")
        EXTRUDER = "extruder", _("extruder, die or cooling")
        SPOOLS = "spools", _("no empty spools or boxes")
        CREW = "crew", _("no crew")
        POWER = "power", _("power, water or air")
        OTHER = "other", _("other, as noted")

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="stops")
    reason = models.CharField(max_length=9, choices=Reason)
    note = models.CharField(max_length=200, blank=True)
    stopped_at = models.DateTimeField(db_index=True)
    stopped_known_at = models.DateTimeField()
    stopped_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    went_on_at = models.DateTimeField(null=True, blank=True)
    went_on_known_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["stopped_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["run"], condition=Q(went_on_at__isnull=True), name="runstop_one_open_per_run"
            ),
            models.CheckConstraint(
                name="runstop_goes_on_after_it_stopped",
                condition=Q(went_on_at__isnull=True, went_on_known_at__isnull=True)
                | Q(went_on_at__gte=F("stopped_at"), went_on_known_at__gte=F("stopped_known_at")),
            ),
            models.CheckConstraint(name="runstop_other_is_noted", condition=~Q(reason="other", note="")),
        ]

    def __str__(self) -> str:
        return f"{self.run_id} {self.reason}"
