"""Texts that somebody reads in another language, in code that knows none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import reduce


class Text(str):
    """A text in English that remembers how it was made, so that `inventory.wording` can say it in another language.

    Attributes
    ----------
    template, plural
        With fields as `str.format` has them; `plural` where the value `n` is not one, empty: there is none.
    values
        Of the fields by name; other texts among them are said in the reader's language as well.
    """

    __slots__ = ("plural", "template", "values")

    template: str
    plural: str
    values: Mapping[str, object]


def text(template: str, plural: str = "", /, **values: object) -> Text:
    """Return a text. Templates are literals here: the tool that collects texts for translators looks for them.

    Examples
    --------
    >>> text("There is no lot {lot!r}.", lot="A-1")
    "There is no lot 'A-1'."
    >>> text("{n} spool waits.", "{n} spools wait.", n=2)
    '2 spools wait.'
    """
    made = Text((plural if plural and values["n"] != 1 else template).format_map(values))
    made.template, made.plural, made.values = template, plural, values
    return made


def joined(parts: Iterable[object], *, by: str = ", ") -> Text:
    """Return parts, which may be texts, one after the other; `by` has no word in it.

    Examples
    --------
    >>> joined([text("{n} of line {line}", n=2, line=1), text("{n} of line {line}", n=3, line=4)])
    '2 of line 1, 3 of line 4'
    """
    named = {f"part{number}": part for number, part in enumerate(parts)}
    return text(by.join(f"{{{name}}}" for name in named), **named)


def listed(parts: Iterable[str]) -> Text:
    """Return one part or more as people list them.

    Examples
    --------
    >>> listed(["L1", "L2", "L3"])
    'L1 and L2 and L3'
    """
    return reduce(lambda most, last: text("{most} and {last}", most=most, last=last), map(_verbatim, parts))


def _verbatim(part: str) -> Text:
    return text("{part}", part=part)


def gettext_noop(text: str) -> str:
    """Return a text as it is: the name tells the tool that collects texts for translators to take it."""
    return text
