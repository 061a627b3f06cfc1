"""Broken rules of the books. No HTTP here: `stockplan.api_errors` maps these classes to problem documents."""

from __future__ import annotations


class BooksError(Exception):
    """A rule of the books would be broken; nothing was written.

    Attributes
    ----------
    code : str
        Stable name of the rule, the same as in the problem document.
    pointer : str
        JSON pointer to the offending field of the request, "" where there is none.
    """

    code = "books_rule"

    def __init__(self, message: str, *, pointer: str = "") -> None:
        super().__init__(message)
        self.pointer = pointer


class NotFoundError(BooksError):
    """A record that the request names does not exist."""

    code = "not_found"


class ConflictError(BooksError):
    """The request clashes with the present state of the books."""

    code = "conflict"


class InvalidInputError(BooksError):
    """A value of the request is outside what the rule allows."""

    code = "invalid_input"
