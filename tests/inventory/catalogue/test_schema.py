"""The written schema against the records: what is described is what is stored."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db import models

from inventory.models import Cart, PlantParameters, Sku
from inventory.plant_files.cells import write_cell
from inventory.plant_files.columns import Column, FileSchema, Kind
from inventory.plant_files.records import MODEL_OF
from inventory.plant_files.schema import FILE_BY_NAME, PLANT_FILES, schema_markdown
from inventory.plant_files.schema_catalogue import SKUS
from inventory.plant_files.schema_plant import PARAMETER_KEYS, PARAMETERS

KIND_OF_FIELD: dict[type[models.Field], Kind] = {
    models.CharField: Kind.TEXT,
    models.IntegerField: Kind.INTEGER,
    models.PositiveIntegerField: Kind.INTEGER,
    models.PositiveSmallIntegerField: Kind.INTEGER,
    models.DecimalField: Kind.NUMBER,
    models.DateField: Kind.DATE,
    models.TimeField: Kind.TIME,
    models.DateTimeField: Kind.INSTANT,
    models.BooleanField: Kind.YES_NO,
}
PAIRS = [
    *((FILE_BY_NAME[name], model) for name, model in MODEL_OF.items()),
    (SKUS, Sku),
]
COLUMNS = [
    *((model, column) for schema, model in PAIRS for column in schema.columns),
    *((PlantParameters, column) for column in PARAMETER_KEYS),
]
# Code and name of a SKU live on its ledger item.
PLAIN = [
    (model, column)
    for model, column in COLUMNS
    if not column.refers_to and not (model is Sku and column.name in ("code", "name"))
]


def column_id(value: object) -> str:
    return value.name if isinstance(value, Column) else getattr(value, "__name__", "")


@pytest.mark.parametrize(("model", "column"), PLAIN, ids=column_id)
def test_column_is_of_the_kind_of_its_field(model: type[models.Model], column: Column) -> None:
    assert KIND_OF_FIELD[type(model._meta.get_field(column.name))] == column.kind


@pytest.mark.parametrize(("model", "column"), PLAIN, ids=column_id)
def test_column_may_be_empty_exactly_where_its_record_can_do_without(model: type[models.Model], column: Column) -> None:
    field = model._meta.get_field(column.name)
    # L* is required in the record, but computed from the hex code where a file leaves it empty.
    can_do_without = field.null or field.blank or field.has_default() or column.name == "lab_l"
    assert can_do_without == (not column.is_required)


@pytest.mark.parametrize(("model", "column"), PLAIN, ids=column_id)
def test_column_says_the_default_of_its_field(model: type[models.Model], column: Column) -> None:
    field = model._meta.get_field(column.name)
    default = write_cell(field.default) if field.has_default() else column.empty
    assert column.empty == default


@pytest.mark.parametrize(("schema", "model"), PAIRS, ids=lambda value: getattr(value, "name", ""))
def test_schema_holds_every_field_of_its_record(schema: FileSchema, model: type[models.Model]) -> None:
    # A SKU is an item of the ledger; where a cart stands is no plant data.
    own = {"id"} | {Sku: {"item"}, Cart: {"oven_load"}}.get(model, set())
    extra = {"code", "name"} if model is Sku else set()
    assert set(schema.header) == {field.name for field in model._meta.fields} - own | extra


def test_parameters_hold_every_field_of_their_record() -> None:
    # The version is drawn by the database, anew in every one.
    assert [column.name for column in PARAMETER_KEYS] == [
        field.name for field in PlantParameters._meta.fields if field.name not in {"id", "version"}
    ]


@pytest.mark.parametrize(
    ("schema", "model"), [*PAIRS, (PARAMETERS, PlantParameters)], ids=lambda value: getattr(value, "name", "")
)
def test_schema_has_a_sentence_for_every_rule_of_its_table(schema: FileSchema, model: type[models.Model]) -> None:
    rules = {rule.name for rule in model._meta.constraints if isinstance(rule, models.CheckConstraint)}
    assert set(schema.sentences) == rules - {"plantparameters_single_row"}


def test_schema_markdown_describes_every_column_of_every_file() -> None:
    text = schema_markdown()
    missing = [
        f"{schema.name} {column.name}"
        for schema in PLANT_FILES
        for column in schema.columns
        if f"| {column.name} | {column.kind} |" not in text.split(f"## {schema.name}")[1].split("\n## ")[0]
    ]
    assert missing == []


def test_guide_describes_the_files_as_they_are() -> None:
    # The guide has the whole of it under a heading of its own, two levels deeper.
    guide = Path("DEVELOPERS.md").read_text(encoding="utf-8")
    section = guide.split("<!-- plant-files:begin -->\n")[1].split("<!-- plant-files:end -->")[0]
    described = schema_markdown().removeprefix("# Plant files\n\n").replace("\n## ", "\n#### ")
    assert section.strip() == described.strip()
