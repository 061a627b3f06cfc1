"""What replays of past days came to."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q


class StoredReplay(models.Model):
    """What a replay of past days came to, as the replay page shows it."""

    policy = models.CharField(max_length=20)
    is_curve = models.BooleanField(help_text="rows are points of an exchange curve, else weeks and their total")
    first_day = models.DateField()
    last_day = models.DateField()
    computed_at = models.DateTimeField()
    conditions = models.JSONField(help_text="sentences")
    rows = models.JSONField(help_text="label, days, orders, lines, units, stock and line use of each row")

    class Meta:
        ordering = ["-computed_at", "-id"]
        constraints = [
            models.CheckConstraint(name="storedreplay_days_ordered", condition=Q(first_day__lte=F("last_day"))),
        ]

    def __str__(self) -> str:
        return f"{self.policy}, {self.first_day} to {self.last_day}"
