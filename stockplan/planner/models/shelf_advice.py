"""What the shelf space of every SKU was worth, as it was last computed."""

from __future__ import annotations

from django.db import models

from inventory.rules.texts import text
from inventory.wording import in_words


class ShelfAdvice(models.Model):
    """Which SKUs deserve shelf space, with the numbers, as the pages show it."""

    computed_at = models.DateTimeField()
    rows = models.JSONField(help_text="one SKU each, those that cost most first")

    class Meta:
        verbose_name_plural = "shelf advice"
        ordering = ["-computed_at", "-id"]

    def __str__(self) -> str:
        n, at = len(self.rows), self.computed_at
        return in_words(text("{n} SKU, {at:%Y-%m-%d %H:%M}", "{n} SKUs, {at:%Y-%m-%d %H:%M}", n=n, at=at))
