"""What was forecast as of an instant, and the stock to hold that follows."""

from __future__ import annotations

from django.db import models

from inventory.models import Sku
from stockplan.planner.models.messages import MessageField


class ForecastRun(models.Model):
    """One forecast of all SKUs as of an instant, with what it was computed from."""

    as_of = models.DateTimeField(db_index=True)
    created_at = models.DateTimeField()
    horizon_days = models.PositiveSmallIntegerField()
    parameters = models.JSONField(default=dict)
    data_digest = models.CharField(max_length=64)
    code_version = models.CharField(max_length=40)
    benchmarks = models.JSONField(
        default=list, help_text="rolling-origin scores: class, method, pinball loss, coverage per quantile"
    )
    later_weeks = MessageField(null=True, help_text="whether the lines can follow the weeks after the list")
    alarms = models.JSONField(
        default=list, help_text="SKUs and classes whose demand has left the forecast: scope, name, kind, since, windows"
    )

    class Meta:
        verbose_name = "forecast"
        ordering = ["-as_of", "-id"]

    def __str__(self) -> str:
        return f"{self.as_of:%Y-%m-%d %H:%M}"


class SkuForecast(models.Model):
    """Distribution of one SKU's demand cumulated over the next 1..H ship days (negative binomial by moments)."""

    forecast_run = models.ForeignKey(ForecastRun, on_delete=models.CASCADE, related_name="skus")
    sku = models.ForeignKey(Sku, on_delete=models.PROTECT, related_name="+")
    method = models.CharField(max_length=40)
    reason = MessageField()
    demand_class = models.CharField(max_length=20)
    mean = models.JSONField(help_text="H numbers: expected demand over h ship days")
    variance = models.JSONField(help_text="H numbers")
    already_received = models.JSONField(default=list, help_text="H numbers: open demand in the books due by day h")
    track = models.JSONField(
        default=dict, help_text="past windows: windows, demand, loss, plain_loss, pit_1 to pit_10; empty: none scored"
    )

    class Meta:
        verbose_name = "SKU forecast"
        constraints = [models.UniqueConstraint(fields=["forecast_run", "sku"], name="skuforecast_one_per_run_and_sku")]

    def __str__(self) -> str:
        return f"{self.forecast_run_id} {self.sku_id}"


class StockTarget(models.Model):
    """Stock to hold of one SKU, from one forecast."""

    forecast_run = models.ForeignKey(ForecastRun, on_delete=models.CASCADE, related_name="targets")
    sku = models.ForeignKey(Sku, on_delete=models.PROTECT, related_name="+")
    order_up_to = models.PositiveIntegerField()
    built_ahead = models.PositiveIntegerField(
        default=0, help_text="part of the level, for weeks the lines cannot follow"
    )
    safety_stock = models.FloatField()
    lead_days = models.FloatField(help_text="L in ship days")
    review_days = models.FloatField(help_text="R in ship days")
    cycle_service = models.FloatField()
    fill_rate = models.FloatField()
    reason = MessageField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["forecast_run", "sku"], name="stocktarget_one_per_run_and_sku"),
            models.CheckConstraint(
                condition=models.Q(built_ahead__lte=models.F("order_up_to")),
                name="stocktarget_built_ahead_is_part_of_it",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sku_id}: {self.order_up_to}"
