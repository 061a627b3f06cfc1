"""Quality of runs as it was measured: diameters of the strand, gross mass of spools."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.ledger import Lot
from inventory.models.runs import Run


class DiameterReport(models.Model):
    """Readings of the strand of one run that came in together, with the limits by which they were judged then."""

    class Source(models.TextChoices):
        GAUGE = "gauge", _("gauge of the line")
        HAND = "hand", _("by hand")

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="diameter_reports")
    source = models.CharField(max_length=5, choices=Source)
    lower_mm = models.DecimalField(max_digits=6, decimal_places=4)
    upper_mm = models.DecimalField(max_digits=6, decimal_places=4)
    outside_readings = models.PositiveIntegerField(help_text="readings with an axis outside the limits")
    document = models.CharField(max_length=80, blank=True, help_text="file of the gauge, sheet of the floor")
    # Hand readings are few and round: two reports of them may well be equal.
    gauge_digest = models.CharField(
        max_length=64, null=True, editable=False, help_text="SHA-256 of the readings of a gauge, to tell its file again"
    )
    occurred_at = models.DateTimeField(help_text="when the last of them was taken")
    known_at = models.DateTimeField(db_index=True)
    posted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(name="diameterreport_limits_ordered", condition=Q(lower_mm__lt=F("upper_mm"))),
            models.UniqueConstraint(fields=["run", "gauge_digest"], name="diameterreport_gauge_readings_once_per_run"),
        ]

    def __str__(self) -> str:
        return f"{self.run_id} {self.occurred_at:%Y-%m-%d %H:%M}"


class DiameterReading(models.Model):
    """One reading, on one axis or on two that are square to each other. Numbers follow the order of measuring."""

    report = models.ForeignKey(DiameterReport, on_delete=models.PROTECT, related_name="readings")
    number = models.PositiveIntegerField()
    x_mm = models.DecimalField(max_digits=6, decimal_places=4)
    y_mm = models.DecimalField(max_digits=6, decimal_places=4, null=True, blank=True)

    class Meta:
        ordering = ["report", "number"]
        constraints = [
            models.UniqueConstraint(fields=["report", "number"], name="diameterreading_one_per_number"),
            models.CheckConstraint(
                name="diameterreading_positive", condition=Q(x_mm__gt=0) & (Q(y_mm__isnull=True) | Q(y_mm__gt=0))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.report_id}/{self.number}"


class SpoolWeighing(models.Model):
    """One spool on the scale: with filament, without its box. `tare_g` is the empty spool as it was known then."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="weighings")
    gross_g = models.DecimalField(max_digits=9, decimal_places=1)
    tare_g = models.PositiveIntegerField()
    occurred_at = models.DateTimeField()
    known_at = models.DateTimeField(db_index=True)
    posted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(name="spoolweighing_above_tare", condition=Q(gross_g__gt=F("tare_g")))]

    def __str__(self) -> str:
        return f"{self.lot_id} {self.gross_g}"
