"""Broken rules of the books. No HTTP here: `stockplan.api_errors` maps these classes to problem documents."""

from __future__ import annotations

from inventory.rules.texts import Text, text


class RuleError(Exception):
    """A rule would be broken. `str` says which in English, `inventory.wording.in_words` in the reader's language.

    Parameters
    ----------
    template, plural : str
        What is wrong, as literals with fields for the values, as of `inventory.rules.texts.text`.
    pointer : str
        JSON pointer to the offending field of the request, "" where there is none.
    values
        Of the fields. Days are given as somebody would have to write them, in ISO 8601; instants as such, and said on
        the reader's clock.

    Attributes
    ----------
    code : str
        Stable name of the rule, the same as in the problem document.
    text : Text
        What is wrong.
    """

    code = "rule"

    def __init__(self, template: str, plural: str = "", /, *, pointer: str = "", **values: object) -> None:
        self.text: Text = text(template, plural, **values)
        super().__init__(self.text)
        self.pointer = pointer


class BooksError(RuleError):
    """A rule of the books would be broken; nothing was written."""

    code = "books_rule"


class NotFoundError(BooksError):
    """A record that the request names does not exist."""

    code = "not_found"


class ConflictError(BooksError):
    """The request clashes with the present state of the books."""

    code = "conflict"


class InvalidInputError(BooksError):
    """A value of the request is outside what the rule allows."""

    code = "invalid_input"
