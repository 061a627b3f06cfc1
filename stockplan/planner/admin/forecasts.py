"""Forecasts and stock targets as computed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from django.contrib import admin
from django.contrib.admin.views.main import ChangeList
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin, label_of, shown
from stockplan.planner.admin.messages import MessagesAdmin, in_words
from stockplan.planner.models import ForecastRun, SkuForecast, StockTarget
from stockplan.planner.wording import method_said

if TYPE_CHECKING:
    from django.contrib.admin.filters import _ListFilterChoices


@admin.register(ForecastRun)
class ForecastRunAdmin(ReadOnlyAdmin):
    group = "Planning"
    purpose = _("One forecast of all SKUs each, as of an instant. Make lists name the one that they stand on.")
    list_display = ["as_of", "created_at", shown("horizon_days", words=_("Ship days ahead")), "code_version"]
    date_hierarchy = "as_of"


class MethodFilter(admin.AllValuesFieldListFilter):
    """Offers the methods in words."""

    def choices(self, changelist: ChangeList) -> Iterator[_ListFilterChoices]:
        """Return the choices, the first of which is all."""
        everything, *methods = super().choices(changelist)
        yield everything
        for one in methods:
            yield {**one, "display": method_said(str(one["display"]))}


class ClassFilter(admin.AllValuesFieldListFilter):
    """Offers the classes of demand in words."""

    def choices(self, changelist: ChangeList) -> Iterator[_ListFilterChoices]:
        """Return the choices, the first of which is all."""
        everything, *classes = super().choices(changelist)
        yield everything
        for one in classes:
            yield {**one, "display": gettext(str(one["display"]))}


@admin.register(SkuForecast)
class SkuForecastAdmin(MessagesAdmin):
    group = "Planning"
    purpose = _(
        "The method that was chosen for each SKU, and why. The page of the SKU shows its forecast and stock ahead."
    )
    list_display = ["sku", "forecast_run", "method_in_words", "class_in_words", in_words("reason")]
    list_filter = [("method", MethodFilter), ("demand_class", ClassFilter)]
    list_select_related = ["sku__item", "forecast_run"]
    search_fields = ["sku__item__code", "sku__item__name"]

    @admin.display(description=label_of("method"), ordering="method")
    def method_in_words(self, row: SkuForecast) -> str:
        return method_said(row.method)

    @admin.display(description=label_of("demand_class"), ordering="demand_class")
    def class_in_words(self, row: SkuForecast) -> str:
        return gettext(row.demand_class)


@admin.register(StockTarget)
class StockTargetAdmin(MessagesAdmin):
    group = "Planning"
    purpose = _(
        "How far each SKU is made up to, what of it is built ahead of weeks that the lines cannot follow, the safety "
        "stock above expected demand, and what it buys: cycles without a stock-out, and the share of demand met from "
        "the shelf."
    )
    list_display = [
        "sku",
        "forecast_run",
        shown("order_up_to", words=_("Make up to")),
        shown("built_ahead", words=_("Of it built ahead")),
        shown("safety_stock", decimals=1),
        shown("cycle_service", decimals=3),
        shown("fill_rate", decimals=3),
        in_words("reason"),
    ]
    list_select_related = ["sku__item", "forecast_run"]
    search_fields = ["sku__item__code", "sku__item__name"]
