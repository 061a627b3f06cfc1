"""Rows of the plain files become records: references resolved, fields and table rules checked, saved in one go."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from inventory.models import (
    Cart,
    Changeover,
    Channel,
    Closure,
    Colour,
    Crew,
    Diameter,
    Dryer,
    Filament,
    Hopper,
    Item,
    Line,
    LineSpeed,
    Material,
    Oven,
    Shift,
    SpoolSize,
    WorkDay,
)
from inventory.plant_files.cells import write_cell
from inventory.plant_files.columns import FileSchema
from inventory.plant_files.faults import FaultList
from inventory.plant_files.table import Row
from inventory.rules.colour import lightness_of_hex
from inventory.rules.texts import Text, text

# Key value -> record, by the name of the file that holds it.
Known = dict[str, dict[Any, Any]]

# The files in which a row is one record and a column one of its fields.
MODEL_OF: Mapping[str, type[models.Model]] = {
    "work_days.csv": WorkDay,
    "closures.csv": Closure,
    "items.csv": Item,
    "materials.csv": Material,
    "colours.csv": Colour,
    "diameters.csv": Diameter,
    "spool_sizes.csv": SpoolSize,
    "filaments.csv": Filament,
    "lines.csv": Line,
    "line_speeds.csv": LineSpeed,
    "changeovers.csv": Changeover,
    "dryers.csv": Dryer,
    "hoppers.csv": Hopper,
    "ovens.csv": Oven,
    "carts.csv": Cart,
    "shifts.csv": Shift,
    "crews.csv": Crew,
    "channels.csv": Channel,
}
KIND_WANTED: Mapping[str, str] = {
    "resin_item": Item.Kind.RESIN,
    "concentrate_item": Item.Kind.CONCENTRATE,
    "spool_part": Item.Kind.SPOOL_PART,
    "box_item": Item.Kind.BOX,
    "desiccant_item": Item.Kind.DESICCANT,
}


def save_rows(schema: FileSchema, rows: Sequence[Row], *, known: Known, faults: FaultList) -> None:
    """Save the rows of a plain file and make them known under their key.

    Raises
    ------
    PlantFileError
        With every fault of the file; then nothing of it is saved.
    """
    model = MODEL_OF[schema.name]
    records: list[models.Model] = []
    for row in rows:
        values = field_values(schema, row, known=known, faults=faults)
        if values is not None:
            record = model(**values)
            for column, reason in record_faults(record, schema):
                faults.add(row.line, column, reason)
            records.append(record)
    faults.refuse()
    model._default_manager.bulk_create(records)
    remember(schema, rows, records, known=known)


def remember(schema: FileSchema, rows: Sequence[Row], records: Sequence[models.Model], *, known: Known) -> None:
    """Make records known to the files after this one; only a key of one column can be referred to."""
    if len(schema.key) == 1:
        key = schema.key[0]
        known[schema.name] = {row.values[key]: record for row, record in zip(rows, records, strict=True)}


def field_values(schema: FileSchema, row: Row, *, known: Known, faults: FaultList) -> dict[str, Any] | None:
    """Return the fields of a row with references resolved, empty cells left to the record's default.

    None where a reference leads nowhere (noted as a fault).
    """
    values: dict[str, Any] = {}
    is_sound = True
    for column in schema.columns:
        value = row.values[column.name]
        if value is None:
            continue
        if column.refers_to:
            value = known[column.refers_to].get(value)
            if fault := reference_fault(column.name, column.refers_to, row.values[column.name], value):
                faults.add(row.line, column.name, fault)
                is_sound = False
        values[column.name] = value
    if schema.name == "colours.csv" and "lab_l" not in values:
        values["lab_l"] = lightness(values["hex"])
    return values if is_sound else None


def record_faults(record: models.Model, schema: FileSchema) -> list[tuple[str, str]]:
    """Return what the record's fields and the rules of its table do not allow, as (field, reason)."""
    references = {field.name for field in record._meta.fields if field.is_relation}
    try:
        record.clean_fields(exclude=references)
    except ValidationError as error:
        return [(name, " ".join(messages)) for name, messages in error.message_dict.items()]
    return broken_rules(record, schema)


def broken_rules(record: models.Model, schema: FileSchema) -> list[tuple[str, str]]:
    """Return the check constraints that a record breaks, as (field, reason).

    One query each: the database itself says whether the values keep it.
    """
    broken: list[tuple[str, str]] = []
    for constraint in record._meta.constraints:
        if isinstance(constraint, models.CheckConstraint):
            try:
                constraint.validate(type(record), record)
            except ValidationError:
                broken.append(schema.sentences[constraint.name])
    return broken


def reference_fault(column: str, file: str, named: Any, found: Any) -> Text | None:
    """Say why a cell may not name what was found for it, or None where it may."""
    if found is None:
        return text("{named!r} is not in {file}.", named=write_cell(named), file=file)
    wanted = KIND_WANTED.get(column)
    if wanted and found.kind != wanted:
        return text(
            "{named!r} is of kind {kind}; this column wants {wanted}.",
            named=write_cell(named),
            kind=found.kind,
            wanted=wanted,
        )
    return None


def lightness(hex_colour: str) -> Decimal:
    """Return L* of a hex code as it is stored, with two decimals."""
    # A wrong hex gets its own message from the field; any L* will do for a record that is refused.
    try:
        return Decimal(f"{lightness_of_hex(hex_colour):.2f}")
    except ValueError:
        return Decimal(0)
