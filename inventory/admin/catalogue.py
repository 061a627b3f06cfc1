"""Catalogue: search, filters, swatches, import with preview and export."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import admin
from django.core.exceptions import PermissionDenied, ValidationError
from django.db.models import Model, QuerySet
from django.http import HttpRequest
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _
from import_export.admin import ImportExportMixin  # type: ignore[import-untyped]
from import_export.forms import ExportForm  # type: ignore[import-untyped]

from inventory.admin.base import filter_of, shown, swatch
from inventory.admin.rules_form import RulesForm, WordedAdmin
from inventory.admin.tables import GuardedCsv, GuardedXlsx, resource_of
from inventory.admin.uploads import NamedConfirmForm, SizedImportForm, TableTooLargeError, WaitingFile
from inventory.models import Colour, Diameter, Filament, Item, Material, Sku, SpoolSize
from inventory.models.catalogue import CODE
from inventory.plant_files import schema_catalogue as files
from inventory.plant_files.records import lightness


class CatalogueAdmin(ImportExportMixin, WordedAdmin):  # type: ignore[misc]
    """A page of the catalogue. The columns of import and export are those of its plant file."""

    formats = [GuardedCsv, GuardedXlsx]
    import_error_display = ("message",)
    # The form that picks columns needs inline scripts, which the content policy forbids; a file has all its columns.
    export_form_class = ExportForm
    import_form_class = SizedImportForm
    confirm_form_class = NamedConfirmForm
    tmp_storage_class = WaitingFile
    list_per_page = 50

    def add_data_read_fail_error_to_form(self, form: Any, e: Exception) -> None:
        """Say of a file that is too large how large it may be."""
        if isinstance(e, TableTooLargeError):
            form.add_error("import_file", str(e))
        else:
            super().add_data_read_fail_error_to_form(form, e)

    def get_resource_classes(self, request: HttpRequest) -> list[type]:
        return [resource_of(self.schema)]

    def get_export_data(self, file_format: Any, request: HttpRequest, queryset: QuerySet[Any], **kwargs: Any) -> Any:
        """Export; numbers stay numbers in a spreadsheet, which the base class only knows of its own formats.

        Raises
        ------
        PermissionDenied
            If the user may not export.
        """
        if not self.has_export_permission(request):
            raise PermissionDenied
        native = file_format.is_binary()
        table = self.get_data_for_export(request, queryset, force_native_type=native, **kwargs)
        exported = file_format.export_data(table)
        return exported if native else exported.encode("utf-8")


@admin.register(Item)
class ItemAdmin(CatalogueAdmin):
    group = "Catalogue"
    purpose = _("What is bought: resin, concentrate, empty spools, boxes, desiccant. SKUs have a list of their own.")
    schema = files.ITEMS
    list_display = ["code", "name", "kind", "unit", shown("lead_time_days")]
    list_filter = ["kind"]
    search_fields = ["code", "name"]

    def get_queryset(self, request: HttpRequest) -> QuerySet[Item]:
        """SKUs have a page of their own."""
        items: QuerySet[Item] = super().get_queryset(request).exclude(kind=Item.Kind.SKU)
        return items

    def formfield_for_choice_field(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        if db_field.name in ("kind", "unit"):
            wanted = files.ITEMS.column(db_field.name).choices
            kwargs["choices"] = [(value, words) for value, words in db_field.choices if value in wanted]
        return super().formfield_for_choice_field(db_field, request, **kwargs)


@admin.register(Material)
class MaterialAdmin(CatalogueAdmin):
    group = "Catalogue"
    purpose = _(
        "The polymers, with the density of the solid and the plant's own drying data. The supplier's data sheet "
        "comes first."
    )
    schema = files.MATERIALS
    list_display = [
        "code",
        "name",
        shown("density_g_cm3"),
        shown("resin_item__code", words=_("Resin")),
        shown("resin_dry_hours"),
        shown("spool_dry_hours"),
    ]
    list_select_related = ["resin_item"]
    search_fields = ["code", "name"]
    autocomplete_fields = ["resin_item"]


class ColourForm(RulesForm):
    """A colour whose L* may be left empty."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if "lab_l" in self.fields:
            self.fields["lab_l"].required = False

    def clean_hex(self) -> str:
        """Take small letters too."""
        return str(self.cleaned_data["hex"]).upper()

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or self.cleaned_data
        if "lab_l" in self.fields and "lab_l" not in self.errors and cleaned.get("lab_l") is None and "hex" in cleaned:
            cleaned["lab_l"] = lightness(cleaned["hex"])
        return cleaned


@admin.register(Colour)
class ColourAdmin(CatalogueAdmin):
    group = "Catalogue"
    purpose = _(
        "Colours with their concentrate and let-down. L* says how light a colour is: dark to light takes the "
        "longer changeover."
    )
    schema = files.COLOURS
    form = ColourForm
    list_display = ["colour_name", "code", "hex", "lab_l", shown("let_down_share"), shown("concentrate_item__code")]
    list_display_links = ["colour_name"]
    list_select_related = ["concentrate_item"]
    search_fields = ["code", "name", "hex"]
    autocomplete_fields = ["concentrate_item"]

    @admin.display(description=_("Colour"), ordering="name")
    def colour_name(self, colour: Colour) -> SafeString:
        return swatch(colour.hex, label=colour.name)


@admin.register(Diameter)
class DiameterAdmin(CatalogueAdmin):
    group = "Catalogue"
    purpose = _("The diameters that are made, and how far a strand may be off.")
    schema = files.DIAMETERS
    list_display = [shown("nominal_mm"), shown("tolerance_mm")]


@admin.register(SpoolSize)
class SpoolSizeAdmin(CatalogueAdmin):
    group = "Catalogue"
    purpose = _(
        "Net mass sold, what is given on top, the empty spool and its limit of temperature, the box, and places "
        "taken in an oven."
    )
    schema = files.SPOOL_SIZES
    list_display = [
        "code",
        shown("net_g"),
        shown("give_away_g"),
        shown("tare_g"),
        shown("spool_part__code", words=_("Empty spool")),
        shown("box_item__code", words=_("Box")),
        shown("desiccant_item__code", words=_("Desiccant")),
        shown("max_temp_c"),
        shown("oven_places"),
    ]
    list_select_related = ["spool_part", "box_item", "desiccant_item"]
    search_fields = ["code"]
    autocomplete_fields = ["spool_part", "box_item", "desiccant_item"]


@admin.register(Filament)
class FilamentAdmin(CatalogueAdmin):
    group = "Catalogue"
    purpose = _("Material, colour and diameter: what one run makes.")
    schema = files.FILAMENTS
    list_display = ["code", "material", "colour_name", "diameter"]
    list_filter = ["material", "diameter"]
    list_select_related = ["material", "colour", "diameter"]
    search_fields = ["code", "colour__name", "material__name"]
    autocomplete_fields = ["material", "colour"]

    @admin.display(description=_("Colour"), ordering="colour__name")
    def colour_name(self, filament: Filament) -> SafeString:
        return swatch(filament.colour.hex, label=filament.colour.name)


class SkuForm(RulesForm):
    """A SKU with code and name, which are kept on the ledger item that is made with it."""

    code = forms.CharField(max_length=32, validators=[CODE], label=_("Code"), help_text=_("Own code of the SKU."))
    name = forms.CharField(
        max_length=120, label=_("Name"), help_text=_("Name for people, as on the order confirmation.")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.item_id:
            self.initial.update(code=self.instance.item.code, name=self.instance.item.name)
            if "code" in self.fields:
                self.fields["code"].disabled = True

    def clean_code(self) -> str:
        code = str(self.cleaned_data["code"])
        if not self.instance.item_id and Item.objects.filter(code=code).exists():
            raise ValidationError(_("The code %(code)s is in use."), params={"code": code})
        return code


@admin.register(Sku)
class SkuAdmin(CatalogueAdmin):
    group = "Catalogue"
    purpose = _(
        "A filament on a spool size: what is sold. A SKU that is not stocked is made to order; one that leaves the"
        " range gets a last day."
    )
    schema = files.SKUS
    form = SkuForm
    fields = [
        "code",
        "name",
        "filament",
        "spool_size",
        "gtin",
        "is_stocked",
        "value",
        "active_from",
        "active_to",
        "shelf_place",
    ]
    list_display = [
        "colour_and_name",
        shown("item__code", words=_("Code")),
        "gtin",
        shown("is_stocked", is_claim=True),
        "value",
        "active_from",
        "active_to",
    ]
    list_filter = [filter_of("is_stocked"), "filament__material", "filament__diameter", "spool_size", "active_from"]
    search_fields = ["item__code", "item__name", "gtin", "filament__code", "filament__colour__name"]
    autocomplete_fields = ["filament", "spool_size"]

    @admin.display(description=_("SKU"), ordering="item__name")
    def colour_and_name(self, sku: Sku) -> SafeString:
        return swatch(sku.filament.colour.hex, label=sku.item.name)

    def get_queryset(self, request: HttpRequest) -> QuerySet[Sku]:
        """The item is needed on every page: it gives a SKU its words."""
        skus: QuerySet[Sku] = super().get_queryset(request)
        return skus.select_related("item", "filament__material", "filament__colour", "spool_size")

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        """Books name a SKU for ever: give it a last day on sale instead."""
        return False

    def save_model(self, request: HttpRequest, obj: Sku, form: forms.ModelForm[Sku], change: bool) -> None:
        if change:
            obj.item.name = form.cleaned_data["name"]
        else:
            code, name = form.cleaned_data["code"], form.cleaned_data["name"]
            obj.item = Item(code=code, name=name, kind=Item.Kind.SKU, unit=Item.Unit.SPOOL)
        obj.item.save()
        obj.item = obj.item
        super().save_model(request, obj, form, change)
