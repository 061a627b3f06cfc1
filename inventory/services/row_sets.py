"""Rows read and written as sets: a statement for any number of rows, and one round trip for several statements.

For the few places where the work of the ORM would cost more than that of the database: placing orders, and the token
of each call. New rows come as one JSON array, so that the text of a statement is always the same, and with ids drawn
beforehand, so that no statement waits for the answer of another.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from itertools import chain
from typing import Any
from weakref import WeakKeyDictionary

from django.db import connection
from django.db.models import Model

Row = tuple[Any, ...]


@dataclass(frozen=True)
class Statement:
    """One SQL statement with its parameters; one that is a list is an array of PostgreSQL."""

    sql: str
    parameters: Sequence[str | int | list[Any]] = ()


# By connection of PostgreSQL the names under which it holds statements ready.
_ready: WeakKeyDictionary[object, dict[str, str]] = WeakKeyDictionary()


def run(statements: Sequence[Statement]) -> list[list[Row]]:
    """Run the statements in their order and return the rows of each, none where it answers nothing.

    One round trip on PostgreSQL: Django's cursors there bind parameters on the client, so that several statements
    may travel together. Each is parsed and planned once a connection. SQLite has no trip to save.
    """
    with connection.cursor() as cursor:
        if connection.vendor != "postgresql":
            return [_rows(cursor.execute(each.sql, each.parameters)) for each in statements]
        calls = [_call(cursor, each) for each in statements]
        cursor.execute("; ".join(calls), list(chain.from_iterable(each.parameters for each in statements)))
        answers = [_rows(cursor)]
        while cursor.nextset():
            answers.append(_rows(cursor))
        return answers


def _call(cursor: Any, statement: Statement) -> str:
    """The text that runs a statement which the connection holds ready, made ready where it is new to it."""
    names = _ready.setdefault(connection.connection, {})
    sql, places = statement.sql, ", ".join(["%s"] * len(statement.parameters))
    if sql not in names:
        name = f"row_set_{len(names)}"
        numbered = sql % tuple(f"${number}" for number in range(1, len(statement.parameters) + 1))
        cursor.execute(f"PREPARE {name} AS {numbered}")
        names[sql] = name
    return f"EXECUTE {names[sql]}({places})"


def _rows(cursor: Any) -> list[Row]:
    return cursor.fetchall() if cursor.description else []


def is_one_of(column: str, values: Sequence[str]) -> Statement:
    """The condition that a column holds one of the values, with its parameters."""
    if connection.vendor == "postgresql":
        return Statement(f"{column} = ANY(%s)", [list(values)])
    return Statement(f"{column} IN ({', '.join(['%s'] * len(values))})", values)


def new_ids(counts: Mapping[type[Model], int]) -> Statement:
    """Draw so many ids for rows of each model: its place among them, and an id.

    On SQLite the write lock of the transaction keeps them.
    """
    return Statement(_new_ids_sql(tuple(counts), connection.vendor), list(counts.values()))


@lru_cache
def _new_ids_sql(models: tuple[type[Model], ...], vendor: str) -> str:
    return " UNION ALL ".join(_ids_of(place, model._meta.db_table, vendor) for place, model in enumerate(models))


def _ids_of(place: int, table: str, vendor: str) -> str:
    if vendor == "postgresql":
        return f"SELECT {place}, nextval('{table}_id_seq') FROM generate_series(1, %s::int)"
    return (
        f"SELECT {place}, k + COALESCE((SELECT seq FROM sqlite_sequence WHERE name = '{table}'), 0) FROM "
        "(WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n LIMIT %s) SELECT k FROM n)"
    )


def insert(model: type[Model], rows: Sequence[Mapping[str, object]]) -> Statement:
    """Insert rows that name every column of the model, in their order."""
    return Statement(_insert_sql(model, tuple(rows[0]), connection.vendor), [as_json(rows)])


@lru_cache
def _insert_sql(model: type[Model], columns: tuple[str, ...], vendor: str) -> str:
    names = ", ".join(map(_quoted, columns))
    return f"INSERT INTO {model._meta.db_table} ({names}) SELECT {names} FROM {json_rows(model, columns, vendor)}"


@lru_cache
def json_rows(model: type[Model], columns: tuple[str, ...], vendor: str) -> str:
    """The table `r` of one parameter, a JSON array of objects: columns of the model."""
    if vendor == "postgresql":
        types = {one.column: one.db_type(connection) for one in model._meta.concrete_fields}
        return f"json_to_recordset(%s) AS r({', '.join(f'{_quoted(column)} {types[column]}' for column in columns)})"
    values = ", ".join(f"json_extract(value, '$.{column}') AS {_quoted(column)}" for column in columns)
    return f"(SELECT {values} FROM json_each(%s)) AS r"


def _quoted(column: str) -> str:
    return f'"{column}"'


def as_json(rows: Sequence[Mapping[str, object]]) -> str:
    """The parameter of `json_rows`."""
    return json.dumps(rows, default=_text)


def _text(value: object) -> str:
    """An instant or a day as the database reads it."""
    if isinstance(value, datetime):
        return str(connection.ops.adapt_datetimefield_value(value))
    assert isinstance(value, date)
    return value.isoformat()
