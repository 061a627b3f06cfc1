"""What a program says of its results: a template in English and the values of its fields, put into words late.

Who makes a message knows neither the language of its reader nor how that reader writes days and numbers. So a message
is kept as it was made; `str` writes it in English, a `Wording` of another language in that one.
"""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True)
class Message:
    """One or more sentences, or a part of one.

    Parameters
    ----------
    template
        English, with fields as `str.format` has them: `{n} spools by {day}`, `{share:.0%}`.
    values
        Of its fields by name: numbers, codes, days, instants in the zone to be read in, other messages, or several of
        these, which are listed.
    plural
        The template where the value `n` is not one; empty: there is none.
    """

    template: str
    values: Mapping[str, Any]
    plural: str = ""

    def __str__(self) -> str:
        return ENGLISH.say(self)


def message(template: str, /, **values: Any) -> Message:
    """Return a message. Templates are literals here: the tool that collects texts for translators looks for them."""
    return Message(template, values)


def counted(one: str, many: str, /, *, n: int, **values: Any) -> Message:
    """Return a message about `n` things, whose template depends on the number; literals, as of `message`."""
    return Message(one, {"n": n, **values}, many)


class Wording(string.Formatter):
    """Puts messages into words: here into English, with the days of the pages, `Tue 2 Mar`."""

    def say(self, said: Message) -> str:
        """Return a message in words."""
        return self.vformat(self.template_of(said), (), said.values)

    def template_of(self, said: Message) -> str:
        """Return the template in the reader's language."""
        return said.plural if said.plural and said.values["n"] != 1 else said.template

    def number(self, value: float, spec: str) -> str:
        """Write a number; `spec` as of `format`."""
        return format(value, spec)

    def day(self, value: date) -> str:
        """Write a day so that nobody has to count."""
        return f"{value:%a} {value.day} {value:%b}"

    def moment(self, value: datetime) -> str:
        """Write an instant, in the zone that it has."""
        return f"{self.day(value)} {value:%H:%M}"

    def listing(self, parts: Sequence[str]) -> str:
        """Join parts of a sentence."""
        if len(parts) == 1:
            return parts[0]
        return self.say(message("{most} and {last}", most=", ".join(parts[:-1]), last=parts[-1]))

    def format_field(self, value: Any, format_spec: str) -> str:
        """Write the value of a field."""
        match value:
            case Message():
                return self.say(value)
            case tuple() | list():
                return self.listing([self.format_field(part, format_spec) for part in value])
            case datetime():
                return self.moment(value)
            case date():
                return self.day(value)
            case float():
                return self.number(value, format_spec)
        return format(value, format_spec)


ENGLISH = Wording()
