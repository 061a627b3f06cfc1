"""Forecasts and stock targets as computed."""

from __future__ import annotations

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin, shown
from stockplan.planner.admin.messages import MessagesAdmin, in_words
from stockplan.planner.models import ForecastRun, SkuForecast, StockTarget


@admin.register(ForecastRun)
class ForecastRunAdmin(ReadOnlyAdmin):
    group = "Planning"
    purpose = _("One forecast of all SKUs each, as of an instant. Make lists name the one that they stand on.")
    list_display = ["as_of", "created_at", shown("horizon_days", words=_("Ship days ahead")), "code_version"]
    date_hierarchy = "as_of"


@admin.register(SkuForecast)
class SkuForecastAdmin(MessagesAdmin):
    group = "Planning"
    purpose = _(
        "The method that was chosen for each SKU, and why. The page of the SKU shows its forecast and stock ahead."
    )
    list_display = ["sku", "forecast_run", "method", "demand_class", in_words("reason")]
    list_filter = ["method", "demand_class"]
    list_select_related = ["sku__item", "forecast_run"]
    search_fields = ["sku__item__code", "sku__item__name"]


@admin.register(StockTarget)
class StockTargetAdmin(MessagesAdmin):
    group = "Planning"
    purpose = _(
        "How far each SKU is made up to, of that the safety stock above expected demand, and what it buys: cycles "
        "without a stock-out, and the share of demand met from the shelf."
    )
    list_display = [
        "sku",
        "forecast_run",
        shown("order_up_to", words=_("Make up to")),
        shown("safety_stock", decimals=1),
        shown("cycle_service", decimals=3),
        shown("fill_rate", decimals=3),
        in_words("reason"),
    ]
    list_select_related = ["sku__item", "forecast_run"]
    search_fields = ["sku__item__code", "sku__item__name"]
