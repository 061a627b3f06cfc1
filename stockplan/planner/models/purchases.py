"""What there was to buy, as it was last computed."""

from __future__ import annotations

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from inventory.rules.texts import text
from inventory.wording import in_words
from stockplan.planner.models.forecasts import ForecastRun


class PurchaseAdvice(models.Model):
    """What to buy and by when, for the list and the forecast beyond it, as the pages show it."""

    forecast_run = models.ForeignKey(ForecastRun, on_delete=models.PROTECT, related_name="+")
    computed_at = models.DateTimeField()
    rows = models.JSONField(encoder=DjangoJSONEncoder, help_text="one purchase each, the most urgent first")

    class Meta:
        verbose_name_plural = "purchase advice"
        ordering = ["-computed_at", "-id"]

    def __str__(self) -> str:
        n, at = len(self.rows), self.computed_at
        return in_words(text("{n} purchase, {at:%Y-%m-%d %H:%M}", "{n} purchases, {at:%Y-%m-%d %H:%M}", n=n, at=at))
