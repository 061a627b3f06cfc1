"""Texts within the widths of their columns."""

from __future__ import annotations

from inventory.errors import InvalidInputError


def check_length(name: str, text: str, *, most: int) -> None:
    """Refuse a text that is longer than its column: SQLite would take it, PostgreSQL would refuse it without a name.

    Raises
    ------
    InvalidInputError
        With the field and how many characters it has.
    """
    if len(text) > most:
        raise InvalidInputError(
            "{name} has {n} characters, at most {most}.", name=name, n=len(text), most=most, pointer=f"/{name}"
        )
