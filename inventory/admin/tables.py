"""Import with preview and export of the catalogue, as CSV and XLSX, in the columns of the plant files."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model, QuerySet
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from import_export import fields, resources, widgets  # type: ignore[import-untyped]
from import_export.formats.base_formats import CSV, XLSX  # type: ignore[import-untyped]
from tablib import Dataset  # type: ignore[import-untyped]

from inventory.admin.uploads import table_of_workbook
from inventory.models import Item, Sku
from inventory.plant_files.cells import CellError, write_cell
from inventory.plant_files.columns import Column, FileSchema
from inventory.plant_files.records import MODEL_OF, broken_rules, lightness, reference_fault
from inventory.plant_files.schema import FILE_BY_NAME
from inventory.plant_files.schema_catalogue import COLOURS, SKUS
from inventory.plant_files.table import read_cell
from inventory.wording import in_words

# A spreadsheet takes a cell that begins so for a formula (CWE-1236), some the wide signs of East Asian text as well; a
# quote before it makes it text.
_FORMULA = re.compile(r"[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")


def guarded(value: Any) -> Any:
    """Return a cell that no spreadsheet runs as a formula.

    Examples
    --------
    >>> guarded("=1+1"), guarded("-5"), guarded("Snow")
    ("'=1+1", '-5', 'Snow')
    """
    if isinstance(value, str) and _FORMULA.match(value) and not _NUMBER.fullmatch(value):
        return f"'{value}"
    return value


def unguarded(text: str) -> str:
    """Take off the quote that `guarded` has put before a cell."""
    return text[1:] if text.startswith("'") and _FORMULA.match(text[1:]) else text


def _guarded_rows(dataset: Dataset) -> Dataset:
    return Dataset(*([guarded(cell) for cell in row] for row in dataset), headers=dataset.headers)


class GuardedCsv(CSV):  # type: ignore[misc]
    """CSV in UTF-8 without formulae."""

    def export_data(self, dataset: Dataset, **kwargs: Any) -> Any:
        return super().export_data(_guarded_rows(dataset), **kwargs)


class GuardedXlsx(XLSX):  # type: ignore[misc]
    """XLSX without formulae, and within bounds."""

    def create_dataset(self, in_stream: bytes) -> Dataset:
        return table_of_workbook(in_stream)

    def export_data(self, dataset: Dataset, **kwargs: Any) -> Any:
        return super().export_data(_guarded_rows(dataset), **kwargs)


class CellWidget(widgets.Widget):  # type: ignore[misc]
    """A cell as its column says, read and written as in the plant files."""

    def __init__(self, column: Column, look_up: Callable[[str, Any], Any], *, empty: Any) -> None:
        super().__init__()
        self._empty = empty
        self._column = column
        self._look_up = look_up

    def clean(self, value: Any, row: Mapping[str, Any] | None = None, **kwargs: Any) -> Any:
        """Return the value of a cell.

        Raises
        ------
        ValueError
            If the cell does not hold what its column says, or names a record that is not there.
        """
        try:
            read = read_cell(self._column, _text_of(value))
        except CellError as error:
            raise ValueError(in_words(error)) from error
        if read is None:
            return self._empty
        if not self._column.refers_to:
            return read
        found = self._look_up(self._column.refers_to, read)
        if fault := reference_fault(self._column.name, self._column.refers_to, read, found):
            raise ValueError(in_words(fault))
        return found

    def render(self, value: Any, obj: Any = None, **kwargs: Any) -> Any:
        """Return the cell of a value: its own type in a spreadsheet, text in CSV."""
        if isinstance(value, Model):
            value = getattr(value, FILE_BY_NAME[self._column.refers_to].key[0])
        is_number = isinstance(value, int | Decimal | date) and not isinstance(value, bool | datetime)
        return value if kwargs.get("force_native_type") and is_number else write_cell(value)


def _text_of(value: Any) -> str:
    """The text of a cell of a spreadsheet, which may be a number or a day of its own."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    return unguarded(str(value).strip()) if isinstance(value, str) else write_cell(value)


def _empty_value(model: type[Model], attribute: str) -> Any:
    """What an empty cell puts into a record: the default of the field, else nothing."""
    if "__" in attribute:
        return None
    field = next(field for field in model._meta.fields if field.name == attribute)
    if field.has_default():
        return field.get_default()
    return "" if field.blank and not field.null else None


class PlainDiff(resources.Diff):  # type: ignore[misc]
    """The preview of a row: old and new value as text, without inline styles, which the content policy forbids."""

    def as_html(self) -> list[SafeString]:
        """Return one cell for each column."""
        cells = []
        for old, new in zip(self.left, self.right, strict=True):
            if self.new or old == new:
                cells.append(format_html("{}", new))
            else:
                cells.append(format_html("<del>{}</del> <ins>{}</ins>", old, new))
        return cells


class CatalogueResource(resources.ModelResource):  # type: ignore[misc]
    """Rows of one file of the catalogue. A row whose key is there changes that record, another one adds one."""

    schema: FileSchema

    class Meta:
        clean_model_instances = False
        use_transactions = True
        skip_unchanged = True
        report_skipped = True

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self._known: dict[str, dict[Any, Any]] = {}
        for field in self.fields.values():
            empty = _empty_value(self._meta.model, field.attribute)
            field.widget = CellWidget(self.schema.column(field.column_name), self._record, empty=empty)

    @classmethod
    def get_diff_class(cls) -> type[PlainDiff]:
        return PlainDiff

    def _record(self, file: str, key: Any) -> Any:
        """Records by key, one query a file and import."""
        if file not in self._known:
            name = FILE_BY_NAME[file].key[0]
            records = MODEL_OF[file]._default_manager.all()
            self._known[file] = {getattr(record, name): record for record in records}
        return self._known[file].get(key)

    def filter_export(self, queryset: QuerySet[Any], **kwargs: Any) -> QuerySet[Any]:
        """Read the named records in the same query."""
        return queryset.select_related(*(column.name for column in self.schema.columns if column.refers_to))

    def before_import(self, dataset: Dataset, **kwargs: Any) -> None:
        """Refuse a table without its columns before any row is read."""
        headers = dataset.headers or []
        if missing := [name for name in self.schema.header if name not in headers]:
            raise ValueError(
                _("The table has no column %(missing)s; it needs %(header)s.")
                % {"missing": ", ".join(missing), "header": ", ".join(self.schema.header)}
            )
        if unknown := [str(name) for name in headers if name not in self.schema.header]:
            raise ValueError(
                _("There is no column %(unknown)s; the columns are %(header)s.")
                % {"unknown": ", ".join(unknown), "header": ", ".join(self.schema.header)}
            )

    def validate_instance(
        self, instance: Any, import_validation_errors: Any = None, validate_unique: bool = True
    ) -> None:
        """Check a record as the loader of plant files does.

        Raises
        ------
        ValidationError
            By field, in plain words.
        """
        errors = dict(import_validation_errors or {})
        if not errors:
            errors = self.record_errors(instance)
        if errors:
            columns: dict[str, str] = {field.attribute: field.column_name for field in self.fields.values()}
            raise ValidationError({columns.get(name, name): reasons for name, reasons in errors.items()})

    def record_errors(self, instance: Any) -> dict[str, Any]:
        """Return what is wrong with a record, by field."""
        references = {field.name for field in instance._meta.fields if field.is_relation}
        try:
            instance.clean_fields(exclude=references)
            instance.validate_unique()
        except ValidationError as error:
            return dict(error.message_dict)
        return {column: [in_words(sentence)] for column, sentence in broken_rules(instance, self.schema)}


class ColourResource(CatalogueResource):
    """Colours: an empty L* is computed from the hex code."""

    def import_instance(self, instance: Any, row: Mapping[str, Any], **kwargs: Any) -> None:
        super().import_instance(instance, row, **kwargs)
        if instance.lab_l is None:
            instance.lab_l = lightness(instance.hex)


class SkuResource(CatalogueResource):
    """SKUs: code and name are those of the ledger item behind it, which is made with it."""

    def get_queryset(self) -> QuerySet[Sku]:
        return Sku.objects.select_related("item")

    def filter_export(self, queryset: QuerySet[Any], **kwargs: Any) -> QuerySet[Any]:
        return super().filter_export(queryset, **kwargs).select_related("item")

    def init_instance(self, row: Mapping[str, Any] | None = None) -> Sku:
        return Sku(item=Item(kind=Item.Kind.SKU, unit=Item.Unit.SPOOL))

    def record_errors(self, instance: Any) -> dict[str, Any]:
        try:
            instance.item.full_clean(validate_constraints=False)
        except ValidationError as error:
            return dict(error.message_dict)
        return super().record_errors(instance)

    def do_instance_save(self, instance: Any, is_create: bool) -> None:
        instance.item.save(force_insert=is_create)
        instance.item = instance.item
        super().do_instance_save(instance, is_create)


def resource_of(schema: FileSchema) -> type[CatalogueResource]:
    """Return the resource of a file of the catalogue."""
    is_sku = schema is SKUS
    model = Sku if is_sku else MODEL_OF[schema.name]
    on_item = {"code": "item__code", "name": "item__name"} if is_sku else {}
    columns = {
        column.name: fields.Field(attribute=on_item.get(column.name, column.name), column_name=column.name)
        for column in schema.columns
    }
    options = {"model": model, "fields": schema.header, "import_id_fields": schema.key}
    meta = type("Meta", (CatalogueResource.Meta,), options)
    base = {SKUS.name: SkuResource, COLOURS.name: ColourResource}.get(schema.name, CatalogueResource)
    return type(f"{model.__name__}Resource", (base,), {**columns, "schema": schema, "Meta": meta})
