"""What the planner took over from finished runs."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.models import Line


class AcceptedFigures(models.Model):
    """Figures of a line that were entered from its finished runs: who, when, from what, and what they were before.

    `changeovers` holds rows of from, to, minutes before and after.
    """

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField()
    accepted_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT)
    learned_to = models.DateTimeField(help_text="runs known by then are in it; later ones teach anew")
    runs = models.PositiveIntegerField()
    availability_before = models.DecimalField(max_digits=5, decimal_places=4)
    availability = models.DecimalField(max_digits=5, decimal_places=4)
    scrap_share_before = models.DecimalField(max_digits=5, decimal_places=4)
    scrap_share = models.DecimalField(max_digits=5, decimal_places=4)
    changeovers = models.JSONField(default=list, help_text="from, to, minutes before and after")

    class Meta:
        ordering = ["-accepted_at", "-id"]
        verbose_name_plural = "accepted figures"
        constraints = [
            models.CheckConstraint(
                name="acceptedfigures_learned_before", condition=Q(learned_to__lte=F("accepted_at"))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line_id} {self.accepted_at:%Y-%m-%d}"
