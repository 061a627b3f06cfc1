"""What there was to buy, as it was last computed."""

from __future__ import annotations

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

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
        return f"{len(self.rows)} purchases, {self.computed_at:%Y-%m-%d %H:%M}"
