"""Forecasts and stock targets as computed."""

from __future__ import annotations

from django.contrib import admin

from stockplan.planner.admin.read_only import ReadOnlyAdmin
from stockplan.planner.models import ForecastRun, SkuForecast, StockTarget


@admin.register(ForecastRun)
class ForecastRunAdmin(ReadOnlyAdmin):
    list_display = ["as_of", "created_at", "horizon_days", "code_version"]
    date_hierarchy = "as_of"


@admin.register(SkuForecast)
class SkuForecastAdmin(ReadOnlyAdmin):
    list_display = ["sku", "forecast_run", "method", "demand_class", "reason"]
    list_filter = ["method", "demand_class"]
    list_select_related = ["sku__item", "forecast_run"]
    search_fields = ["sku__item__code", "sku__item__name"]


@admin.register(StockTarget)
class StockTargetAdmin(ReadOnlyAdmin):
    list_display = ["sku", "forecast_run", "order_up_to", "safety_stock", "cycle_service", "fill_rate", "reason"]
    list_select_related = ["sku__item", "forecast_run"]
    search_fields = ["sku__item__code", "sku__item__name"]
