"""The tokens that begin with a key, each with its user and its channel, by a statement that is written once.

Every call of the API asks for them: building the query anew took more time than all that the call does with them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import islice
from typing import Any

from django.contrib.auth.models import User
from django.db import connection
from django.db.models import Model
from django.db.models.expressions import Col

from inventory.models import Channel
from inventory.services.row_sets import Statement, run
from stockplan.access.models import ApiToken

ALIASES: tuple[tuple[str, type[Model]], ...] = (("t", ApiToken), ("u", User), ("c", Channel))


def tokens_with_key(key: str) -> list[ApiToken]:
    """Return the tokens that begin with the key. One query."""
    [rows] = run([Statement(_statement(), [key])])
    return [_token(row) for row in rows]


@cache
def _statement() -> str:
    columns = ", ".join(
        f'{alias}."{field.column}"' for alias, model in ALIASES for field in model._meta.concrete_fields
    )
    token, user, channel = (model._meta.db_table for _, model in ALIASES)
    return (
        f"SELECT {columns} FROM {token} t JOIN {user} u ON u.id = t.user_id "
        f"LEFT JOIN {channel} c ON c.id = t.channel_id WHERE t.token_key = %s"
    )


def _token(row: Sequence[Any]) -> ApiToken:
    values = iter(_converted(row))
    token, user, channel = (_record(model, values) for _, model in ALIASES)
    assert isinstance(token, ApiToken)
    token.user, token.channel = user, channel if channel.pk is not None else None
    return token


def _record(model: type[Model], values: Iterator[Any]) -> Model:
    """The record of the next values, one for each column of its table."""
    names = [field.attname for field in model._meta.concrete_fields]
    return model.from_db("default", names, list(islice(values, len(names))))


def _converted(row: Sequence[Any]) -> list[Any]:
    values = list(row)
    for position, column, convert in _converters():
        values[position] = convert(values[position], column, connection)
    return values


@cache
def _converters() -> list[tuple[int, Col, Any]]:
    """What turns values of the database into those of the models: position, column, function."""
    columns = [field.get_col(alias) for alias, model in ALIASES for field in model._meta.concrete_fields]
    return [
        (position, column, convert)
        for position, column in enumerate(columns)
        for convert in (*connection.ops.get_db_converters(column), *column.get_db_converters(connection))
    ]
