"""What the shelf space of every SKU was worth, as it was last computed."""

from __future__ import annotations

from django.db import models


class ShelfAdvice(models.Model):
    """Which SKUs deserve shelf space, with the numbers, as the pages show it."""

    computed_at = models.DateTimeField()
    rows = models.JSONField(help_text="one SKU each, those that cost most first")

    class Meta:
        verbose_name_plural = "shelf advice"
        ordering = ["-computed_at", "-id"]

    def __str__(self) -> str:
        return f"{len(self.rows)} SKUs, {self.computed_at:%Y-%m-%d %H:%M}"
