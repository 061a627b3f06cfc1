"""Orders, to look at: lines, promises that moved, shipments. They change by services only."""

from __future__ import annotations

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin, ReadOnlyInline, shown
from inventory.models import Allocation, Order, OrderLine, PromiseChange, Shipment, ShipmentLine


class OrderLineInline(ReadOnlyInline):
    model = OrderLine
    fields = ["line_no", "sku", "quantity", "shipped", "promised_day", "quoted_day", "shipped_complete_day"]
    related = ("sku__item",)


@admin.register(Order)
class OrderAdmin(ReadOnlyAdmin):
    group = "Orders"
    purpose = _("Orders as received. The due day is fixed then and never moves, whatever is promised later.")
    list_display = ["reference", "channel", "kind", "received_at", "due_day", "wanted_day", "may_part_ship", "state"]
    list_filter = ["state", "channel", "kind", "due_day"]
    list_select_related = ["channel"]
    search_fields = ["reference", "lines__sku__item__code"]
    date_hierarchy = "received_at"
    ordering = ["-received_at", "-id"]
    inlines = [OrderLineInline]


@admin.register(Allocation)
class AllocationAdmin(ReadOnlyAdmin):
    group = "Orders"
    purpose = _("Which spools belong to which order: from the shelf, or from a run that has yet to come in.")
    list_display = [
        shown("order_line__order__reference", words=_("Order")),
        shown("order_line__sku__item__code", words=_("SKU")),
        "quantity",
        shown("run_output__run__code", words=_("From run (empty: shelf)")),
        "created_at",
        "end",
        "ended_at",
    ]
    list_filter = ["end"]
    list_select_related = ["order_line__order", "order_line__sku__item", "run_output__run"]
    search_fields = ["order_line__order__reference", "order_line__sku__item__code"]


@admin.register(PromiseChange)
class PromiseChangeAdmin(ReadOnlyAdmin):
    group = "Orders"
    purpose = _("Every ship day that was moved, from which day to which, and why: sales tells these customers.")
    list_display = [
        shown("order_line__order__reference", words=_("Order")),
        shown("order_line__sku__item__code", words=_("SKU")),
        "old_day",
        "new_day",
        "cause",
        "known_at",
    ]
    list_select_related = ["order_line__order", "order_line__sku__item"]
    search_fields = ["order_line__order__reference", "order_line__sku__item__code"]
    date_hierarchy = "known_at"


class ShipmentLineInline(ReadOnlyInline):
    model = ShipmentLine
    fields = ["order_line", "quantity"]
    related = ("order_line",)


@admin.register(Shipment)
class ShipmentAdmin(ReadOnlyAdmin):
    group = "Orders"
    purpose = _("What left the house, on which day, with which paper.")
    list_display = [shown("order__reference", words=_("Order")), "ship_day", "shipped_at", "document"]
    list_select_related = ["order"]
    search_fields = ["order__reference", "document"]
    date_hierarchy = "ship_day"
    inlines = [ShipmentLineInline]
