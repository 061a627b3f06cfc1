"""The books, to look at: ledger, lots, balances, runs. They change by services only."""

from __future__ import annotations

from django.contrib import admin
from django.http import HttpRequest
from django.urls import reverse
from django.utils.formats import number_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin, ReadOnlyInline, filter_of, shown, swatch
from inventory.models import (
    Balance,
    Lot,
    Movement,
    MovementLine,
    OvenLoad,
    Place,
    Run,
    RunOutput,
    RunPlan,
    RunStop,
    ShelfStock,
    StepTick,
)


@admin.register(Place)
class PlaceAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("Where goods lie or come from. What a place outside the plant gave stands there as a negative balance.")
    list_display = ["code", "kind", "oven", shown("is_physical", words=_("In the plant"), is_claim=True)]
    list_filter = [filter_of("is_physical", words=_("in the plant")), "kind"]
    list_select_related = ["oven"]


@admin.register(Lot)
class LotAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _(
        "Every delivery and every run is a lot, down to the customer who got it. A lot on hold is neither used nor"
        " shipped."
    )
    list_display = [
        "code",
        "item",
        shown("item__name", words=_("Name")),
        "run",
        "supplier_lot",
        "created_at",
        shown("is_held", words=_("On hold"), is_claim=True),
    ]
    list_filter = [filter_of("is_held", words=_("on hold")), "item__kind"]
    list_select_related = ["item", "run"]
    search_fields = ["code", "supplier_lot", "item__code", "item__name"]


# An opening stock may have thousands of lines; more than these have a list of their own, page by page.
LINES_SHOWN = 100


class MovementLineInline(ReadOnlyInline):
    model = MovementLine
    fields = ["item", "lot", "quantity", "from_place", "to_place"]
    related = ("item", "lot", "from_place", "to_place")


@admin.register(MovementLine)
class MovementLineAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("The ledger line by line: how much of which lot moved from where to where.")
    list_display = [
        "movement",
        "item",
        shown("item__name", words=_("Name")),
        "lot",
        "quantity",
        shown("item__unit", words=_("Unit")),
        "from_place",
        "to_place",
    ]
    list_select_related = ["movement", "item", "lot", "from_place", "to_place"]
    search_fields = ["item__code", "item__name", "lot__code"]
    ordering = ["-id"]


@admin.register(Movement)
class MovementAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _(
        "The ledger: what moved, from where to where, when it happened and when the books learned of it. "
        "A posted movement never changes; a mistake is set right by a new one."
    )
    list_display = ["id", "kind", "occurred_at", "known_at", "posted_by", "run", "document", "reason"]
    list_filter = ["kind"]
    list_select_related = ["posted_by", "run"]
    search_fields = ["document", "reason", "run__code"]
    date_hierarchy = "occurred_at"
    ordering = ["-id"]
    readonly_fields = ["all_lines"]

    @admin.display(description=_("Lines"))
    def all_lines(self, movement: Movement) -> SafeString:
        address = reverse("admin:inventory_movementline_changelist", query={"movement__id__exact": movement.pk})
        return format_html('<a href="{}">{}</a>', address, number_format(movement.lines.count()))

    def get_inlines(self, request: HttpRequest, obj: Movement | None) -> list[type[admin.options.InlineModelAdmin]]:  # type: ignore[type-arg]
        is_long = obj is not None and obj.lines.count() > LINES_SHOWN
        return [] if is_long else [MovementLineInline]


@admin.register(Balance)
class BalanceAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _(
        "What lies where, by lot, as the movements add up to. Places outside the plant stand below zero by what "
        "came from them."
    )
    list_display = [
        "item",
        shown("item__name", words=_("Name")),
        "place",
        "lot",
        "quantity",
        shown("item__unit", words=_("Unit")),
    ]
    list_filter = ["place", "item__kind"]
    list_select_related = ["item", "place", "lot"]
    search_fields = ["item__code", "item__name", "lot__code"]


@admin.register(ShelfStock)
class ShelfStockAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("Spools packed and on the shelf, how many of them belong to orders, and how many are free.")
    list_display = [
        "name",
        shown("sku__item__code", words=_("Code")),
        "on_shelf",
        "allocated",
        shown("free", words=_("Free")),
        "changed_at",
    ]
    list_filter = ["sku__filament__material", "sku__spool_size"]
    list_select_related = ["sku__item", "sku__filament__colour"]
    search_fields = ["sku__item__code", "sku__item__name", "sku__gtin"]
    ordering = ["sku__item__code"]

    @admin.display(description=_("SKU"), ordering="sku__item__name")
    def name(self, stock: ShelfStock) -> SafeString:
        return swatch(stock.sku.filament.colour.hex, label=stock.sku.item.name)


class RunOutputInline(ReadOnlyInline):
    model = RunOutput
    fields = ["sku", "planned", "good", "scrap", "awaited", "allocated", "shelf_day"]
    related = ("sku__item",)


class RunPlanInline(ReadOnlyInline):
    model = RunPlan
    verbose_name_plural = "plans, the last one stands"
    fields = [
        "known_at", "line", "planned_start", "planned_end", "hopper", "drying_from",
        "changeover_from", "changeover_min", "planned_purge_kg",
    ]  # fmt: skip
    related = ("line", "hopper", "changeover_from")


class RunStopInline(ReadOnlyInline):
    model = RunStop
    verbose_name_plural = "stops"
    fields = ["stopped_at", "went_on_at", "reason", "note", "stopped_by"]
    related = ("stopped_by",)


class StepTickInline(ReadOnlyInline):
    model = StepTick
    fields = ["step", "turn", "occurred_at", "known_at", "posted_by"]
    related = ("posted_by",)


@admin.register(Run)
class RunAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _(
        "Runs as released to the floor, and what came of them. The check of masses marks a run whose resin in and "
        "goods out differ."
    )
    list_display = [
        "code",
        "filament",
        "line",
        "state",
        "planned_start",
        "planned_end",
        shown("is_mass_flagged", words=_("Masses differ"), is_claim=True),
    ]
    list_filter = ["state", "line", filter_of("is_mass_flagged", words=_("masses differ"))]
    list_select_related = ["filament", "line"]
    search_fields = ["code", "filament__code"]
    date_hierarchy = "planned_start"
    inlines = [RunOutputInline, RunPlanInline, RunStopInline, StepTickInline]


@admin.register(RunStop)
class RunStopAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("When a line stood still while a run was under way, and why, as the floor said.")
    list_display = ["run", "reason", "note", "stopped_at", "went_on_at", "stopped_by"]
    list_filter = ["reason", "run__line"]
    list_select_related = ["run", "stopped_by"]
    search_fields = ["run__code", "note"]
    date_hierarchy = "stopped_at"


@admin.register(OvenLoad)
class OvenLoadAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("Spools that were dried together: in which oven, how hot, how long, and from when they may be packed.")
    list_display = ["code", "oven", "loaded_at", shown("temperature_c"), shown("hours"), "ready_at", "unloaded_at"]
    list_filter = ["oven"]
    list_select_related = ["oven"]
    search_fields = ["code"]
