"""The one form of a plant's files: that in which a dump writes them, so that loading and dumping changes no byte."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from django.db import models

from inventory.models import PlantParameters
from inventory.plant_files.columns import FileSchema
from inventory.plant_files.records import MODEL_OF
from inventory.plant_files.schema_books import OPENING_STOCK, ORDERS
from inventory.plant_files.schema_plant import PARAMETER_KEYS, PARAMETERS
from inventory.plant_files.table import read_table, write_table

_PLACE_OF_KEY = {column.name: place for place, column in enumerate(PARAMETER_KEYS)}
_BY_ARRIVAL = ("received_at", "channel", "reference", "line_no")


def write_canonical(path: Path, schema: FileSchema) -> int:
    """Write a file anew with every column, cells in their one form and rows in their order. Returns how many rows.

    Raises
    ------
    PlantFileError
        If the file has a fault.
    """
    read, faults = read_table(path, schema)
    faults.refuse()
    rows = [_with_defaults(row.values, schema) for row in read]
    if schema is PARAMETERS:
        rows += _parameters_left_out({row["key"] for row in rows})
    if schema is not OPENING_STOCK:
        # Opening stock stands in the order in which its lots are used.
        rows = sorted(rows, key=lambda row: sort_key(row, schema))
    return write_table(path, schema, rows)


def sort_key(row: Mapping[str, Any], schema: FileSchema) -> tuple[Any, ...]:
    """Return what the rows of a file are sorted by: their key, orders by their arrival."""
    if schema is PARAMETERS:
        return (_PLACE_OF_KEY.get(row["key"], len(_PLACE_OF_KEY)),)
    names = _BY_ARRIVAL if schema is ORDERS else schema.key
    return tuple((row[name] is not None, row[name]) for name in names)


def _with_defaults(values: Mapping[str, Any], schema: FileSchema) -> Mapping[str, Any]:
    """Fill empty cells with what the record stores for them."""
    if schema.name not in MODEL_OF:
        return values
    return {**_defaults(MODEL_OF[schema.name]), **{name: value for name, value in values.items() if value is not None}}


def _parameters_left_out(given: Collection[str]) -> list[Mapping[str, Any]]:
    return [{"key": name, "value": value} for name, value in _defaults(PlantParameters).items() if name not in given]


def _defaults(model: type[models.Model]) -> dict[str, Any]:
    """What the fields of a record hold where nobody says anything; None where they have no default.

    Fields that nobody can state are not among them.
    """
    return {
        field.name: field.get_default() if field.has_default() else None
        for field in model._meta.fields
        if field.editable and field.name != "id"
    }
