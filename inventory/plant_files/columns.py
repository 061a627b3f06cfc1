"""The words in which the schema of the plant files is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from inventory.rules.texts import Text


class Kind(StrEnum):
    """What a cell holds, and how it is written."""

    TEXT = "text"
    INTEGER = "integer"
    NUMBER = "number"
    DATE = "date"
    TIME = "time"
    INSTANT = "instant"
    YES_NO = "yes/no"


NOTATION: Mapping[Kind, str] = {
    Kind.TEXT: "text in UTF-8",
    Kind.INTEGER: "whole number without separators, 1700",
    Kind.NUMBER: "number with a decimal point, 1.24",
    Kind.DATE: "calendar day of the plant, 2027-03-01",
    Kind.TIME: "local time of day of the plant, 13:40",
    Kind.INSTANT: "date, time and offset from UTC, 2027-03-01T12:40:00Z or 2027-03-01T13:40:00+01:00",
    Kind.YES_NO: "yes or no",
}


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a file.

    Parameters
    ----------
    name : str
        Header, the same as the field of the record.
    kind : Kind
        What a cell holds.
    meaning : str
        One line for the person who fills it in.
    unit : str
        Unit of the figure, "" where it has none.
    empty : str
        What an empty cell means; "" where a cell must be filled.
    refers_to : str
        File whose key the cell names, "" where it names none.
    choices : tuple of str
        The allowed words, where they are a closed set.
    may_be_absent : bool
        The whole column may be left out; its cells then count as empty.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    empty: str = ""
    refers_to: str = ""
    choices: tuple[str, ...] = ()
    may_be_absent: bool = False

    @property
    def is_required(self) -> bool:
        return not self.empty


@dataclass(frozen=True, kw_only=True)
class FileSchema:
    """One file of a plant.

    Parameters
    ----------
    name : str
        File name in the folder.
    meaning : str
        One line: what a row is.
    columns : tuple of Column
        In the order in which they are written.
    key : tuple of str
        Columns that name a row; no two rows have the same.
    unique : tuple of tuple of str
        Further columns, or sets of columns, in which no two rows are the same.
    is_required : bool
        Without this file there is no plant.
    absent : str
        What it means that an optional file is missing.
    sentences : mapping
        Name of a database constraint -> (column to point at, what is wrong in plain words).
    """

    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    unique: tuple[tuple[str, ...], ...] = ()
    is_required: bool = True
    absent: str = ""
    sentences: Mapping[str, tuple[str, Text]] = field(default_factory=dict)

    @property
    def header(self) -> list[str]:
        return [column.name for column in self.columns]

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)
