"""Tables: one CSV file against its schema. Reading collects every fault; writing has one result for equal rows."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from inventory.plant_files.cells import CellError, parse_cell, write_cell
from inventory.plant_files.columns import Column, FileSchema
from inventory.plant_files.faults import FaultList
from inventory.rules.texts import joined, text


@dataclass(frozen=True)
class Row:
    """One row: its line in the file and its values by column, None where a cell is empty."""

    line: int
    values: Mapping[str, Any]


def read_table(path: Path, schema: FileSchema) -> tuple[list[Row], FaultList]:
    """Read a file. The caller adds what it finds wrong to the faults and then calls `refuse` on them.

    A file that may be missing and is missing reads as no rows.

    Raises
    ------
    PlantFileError
        If the file cannot be read as a table at all, or holds fifty faults.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        faults = FaultList(path.name)
        if schema.is_required:
            faults.add(0, "", text("the file is missing ({path}).", path=path))
            faults.refuse()
        return [], faults
    return table_of(content, schema, name=path.name)


def table_of(content: bytes, schema: FileSchema, *, name: str) -> tuple[list[Row], FaultList]:
    """Read the content of a file of that name, as `read_table` does.

    Raises
    ------
    PlantFileError
        If it cannot be read as a table at all, or holds fifty faults.
    """
    faults = FaultList(name)
    records = _records(_decoded(content, faults), faults)
    header = _header(next(records, (1, [])), schema, faults)
    empty = dict.fromkeys(schema.header)
    rows = [row for line, cells in records if (row := _row(line, cells, header, faults, empty))]
    for columns in (schema.key, *schema.unique):
        _note_repeated(rows, columns, faults)
    return rows, faults


def write_table(path: Path, schema: FileSchema, rows: Iterable[Mapping[str, Any]]) -> int:
    """Write rows in the given order and return their number. Line ends are a bare newline on every system."""
    count = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(schema.header)
        for values in rows:
            writer.writerow([write_cell(values[name]) for name in schema.header])
            count += 1
    return count


def _decoded(content: bytes, faults: FaultList) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        faults.add(
            error.object[: error.start].count(b"\n") + 1, "", text("is not UTF-8; save the file as CSV in UTF-8.")
        )
        faults.refuse()
        raise


def _records(content: str, faults: FaultList) -> Iterator[tuple[int, list[str]]]:
    """Give each filled record with the line on which it begins; a quoted cell may hold line ends."""
    reader = csv.reader(io.StringIO(content, newline=""), strict=True)
    begins = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield begins, [cell.strip() for cell in cells]
            begins = reader.line_num + 1
    except csv.Error as error:
        faults.add(begins, "", text("cannot be read as CSV: {error}.", error=error))
        faults.refuse()


def _header(record: tuple[int, list[str]], schema: FileSchema, faults: FaultList) -> list[Column]:
    line, names = record
    wanted = ", ".join(schema.header)
    if not names:
        faults.add(1, "", text("the file is empty; its first row must name the columns {wanted}.", wanted=wanted))
    for column in schema.columns:
        if names and column.name not in names and not column.may_be_absent:
            faults.add(
                line,
                column.name,
                text("the column is missing; the columns are {wanted}, separated by commas.", wanted=wanted),
            )
    for name in dict.fromkeys(names):
        if name not in schema.header:
            faults.add(line, name, text("there is no such column; the columns are {wanted}.", wanted=wanted))
        elif names.count(name) > 1:
            faults.add(line, name, text("the column is there twice."))
    # Cells cannot be told apart without a sound header.
    faults.refuse()
    return [schema.column(name) for name in names]


def _row(
    line: int, cells: Sequence[str], header: Sequence[Column], faults: FaultList, empty: Mapping[str, None]
) -> Row | None:
    if len(cells) != len(header):
        faults.add(
            line,
            "",
            text("has {n} cells, but the header names {named} columns.", n=len(cells), named=len(header)),
        )
        return None
    values: dict[str, Any] = dict(empty)
    is_sound = True
    for column, cell in zip(header, cells, strict=True):
        try:
            values[column.name] = read_cell(column, cell)
        except CellError as error:
            faults.add(line, column.name, error.text)
            is_sound = False
    return Row(line, values) if is_sound else None


def read_cell(column: Column, text: str) -> Any:
    """Return the value of a cell, None where it is empty and may be.

    Raises
    ------
    CellError
        If it must be filled and is not, or holds something else than its column says.
    """
    if not text:
        if column.is_required:
            raise CellError("must be filled.")
        return None
    if "\x00" in text:
        raise CellError("holds a NUL character.")
    if column.choices and text not in column.choices:
        raise CellError("{text!r} is none of {choices}.", text=text, choices=", ".join(column.choices))
    return parse_cell(text, column.kind)


def _note_repeated(rows: Sequence[Row], columns: tuple[str, ...], faults: FaultList) -> None:
    """Note rows that agree in all of the columns. Outside the key, empty cells are never the same."""
    first: dict[tuple[Any, ...], int] = {}
    for row in rows:
        key = tuple(row.values[name] for name in columns)
        if all(value is None for value in key):
            continue
        if key in first:
            words = joined(
                text("{column} {value}", column=name, value=write_cell(value) or text("empty"))
                for name, value in zip(columns, key, strict=True)
            )
            faults.add(
                row.line, columns[-1], text("{words} is already in line {first}.", words=words, first=first[key])
            )
        else:
            first[key] = row.line
