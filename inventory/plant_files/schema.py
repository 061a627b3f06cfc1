"""The written schema of a plant: every file, in the order in which it is loaded, and its description in words."""

from __future__ import annotations

from inventory.plant_files.columns import NOTATION, Column, FileSchema
from inventory.plant_files.schema_books import BOOK_FILES
from inventory.plant_files.schema_catalogue import CATALOGUE_FILES
from inventory.plant_files.schema_plant import CALENDAR_FILES, LINE_FILES, PARAMETER_KEYS, PARAMETERS

PLANT_FILES: tuple[FileSchema, ...] = (*CALENDAR_FILES, *CATALOGUE_FILES, *LINE_FILES, *BOOK_FILES)
FILE_BY_NAME = {schema.name: schema for schema in PLANT_FILES}

_TABLE_HEAD = ("| column | holds | unit | empty cell | meaning |", "| --- | --- | --- | --- | --- |")


def schema_markdown() -> str:
    """Return the schema as Markdown, from the same objects that load and dump the files."""
    notation = [f"- {kind}: {text}" for kind, text in NOTATION.items()]
    files = [line for schema in PLANT_FILES for line in _file_lines(schema)]
    return "\n".join(["# Plant files", "", *_RULES, *notation, "", *files])


_RULES = (
    "CSV files in UTF-8, separated by commas, the first row names the columns. Rows may come in any order",
    "(but for opening_stock.csv). Columns named in a file's key tell its rows apart.",
    "",
)


def _file_lines(schema: FileSchema) -> list[str]:
    presence = "Required." if schema.is_required else f"May be missing: {schema.absent}."
    lines = [f"## {schema.name}", "", f"{schema.meaning} {presence} Key: {', '.join(schema.key)}.", ""]
    lines += [*_TABLE_HEAD, *(_column_row(column) for column in schema.columns), ""]
    if schema is PARAMETERS:
        lines += ["Keys:", "", *_TABLE_HEAD, *(_column_row(column) for column in PARAMETER_KEYS), ""]
    return lines


def _column_row(column: Column) -> str:
    meaning = column.meaning
    if column.choices:
        meaning += f"; one of {', '.join(column.choices)}"
    if column.refers_to:
        meaning += f"; key of a row of {column.refers_to}"
    if column.may_be_absent:
        meaning += "; the column may be left out"
    return f"| {column.name} | {column.kind} | {column.unit} | {column.empty or 'must be filled'} | {meaning} |"
