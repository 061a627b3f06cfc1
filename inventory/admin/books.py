"""The books, to look at: ledger, lots, balances, runs. They change by services only."""

from __future__ import annotations

from django.contrib import admin
from django.utils.safestring import SafeString

from inventory.admin.base import ReadOnlyAdmin, ReadOnlyInline, shown, swatch
from inventory.models import Balance, Lot, Movement, MovementLine, OvenLoad, Place, Run, RunOutput, ShelfStock


@admin.register(Place)
class PlaceAdmin(ReadOnlyAdmin):
    list_display = ["code", "kind", "oven", "is_physical"]
    list_filter = ["is_physical", "kind"]
    list_select_related = ["oven"]


@admin.register(Lot)
class LotAdmin(ReadOnlyAdmin):
    list_display = ["code", "item", shown("item__name", words="Name"), "run", "supplier_lot", "created_at", "is_held"]
    list_filter = ["is_held", "item__kind"]
    list_select_related = ["item", "run"]
    search_fields = ["code", "supplier_lot", "item__code", "item__name"]


class MovementLineInline(ReadOnlyInline):
    model = MovementLine
    fields = ["item", "lot", "quantity", "from_place", "to_place"]
    related = ("item", "lot", "from_place", "to_place")


@admin.register(Movement)
class MovementAdmin(ReadOnlyAdmin):
    list_display = ["id", "kind", "occurred_at", "known_at", "posted_by", "run", "document", "reason"]
    list_filter = ["kind"]
    list_select_related = ["posted_by", "run"]
    search_fields = ["document", "reason", "run__code"]
    date_hierarchy = "occurred_at"
    ordering = ["-id"]
    inlines = [MovementLineInline]


@admin.register(Balance)
class BalanceAdmin(ReadOnlyAdmin):
    list_display = [
        "item",
        shown("item__name", words="Name"),
        "place",
        "lot",
        "quantity",
        shown("item__unit", words="Unit"),
    ]
    list_filter = ["place", "item__kind"]
    list_select_related = ["item", "place", "lot"]
    search_fields = ["item__code", "item__name", "lot__code"]


@admin.register(ShelfStock)
class ShelfStockAdmin(ReadOnlyAdmin):
    list_display = [
        "name",
        shown("sku__item__code", words="Code"),
        "on_shelf",
        "allocated",
        "free_spools",
        "changed_at",
    ]
    list_filter = ["sku__filament__material", "sku__spool_size"]
    list_select_related = ["sku__item", "sku__filament__colour"]
    search_fields = ["sku__item__code", "sku__item__name", "sku__gtin"]
    ordering = ["sku__item__code"]

    @admin.display(description="SKU", ordering="sku__item__name")
    def name(self, stock: ShelfStock) -> SafeString:
        return swatch(stock.sku.filament.colour.hex, label=stock.sku.item.name)

    @admin.display(description="Free")
    def free_spools(self, stock: ShelfStock) -> int:
        return stock.free


class RunOutputInline(ReadOnlyInline):
    model = RunOutput
    fields = ["sku", "planned", "good", "scrap", "awaited", "allocated", "shelf_day"]
    related = ("sku__item",)


@admin.register(Run)
class RunAdmin(ReadOnlyAdmin):
    list_display = ["code", "filament", "line", "state", "planned_start", "planned_end", "is_mass_flagged"]
    list_filter = ["state", "line", "is_mass_flagged"]
    list_select_related = ["filament", "line"]
    search_fields = ["code", "filament__code"]
    date_hierarchy = "planned_start"
    inlines = [RunOutputInline]


@admin.register(OvenLoad)
class OvenLoadAdmin(ReadOnlyAdmin):
    list_display = ["code", "oven", "loaded_at", shown("temperature_c"), shown("hours"), "ready_at", "unloaded_at"]
    list_filter = ["oven"]
    list_select_related = ["oven"]
    search_fields = ["code"]
