"""Puts texts and broken rules into the words of whoever reads them."""

from __future__ import annotations

import string
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import formats, timezone
from django.utils.translation import gettext, ngettext

from inventory.rules.texts import Text


class _ReadersWords(string.Formatter):
    """Fills the templates of the active catalogue, numbers as its language writes them, times of the active zone."""

    def format_field(self, value: Any, format_spec: str) -> str:
        match value:
            case Text() | Exception():
                return in_words(value)
            case float() | Decimal():
                return number(value, format_spec)
            case datetime() if timezone.is_aware(value):
                return _instant(value)
        return format(value, format_spec)


_WORDS = _ReadersWords()


def in_words(said: Exception | str) -> str:
    """Say an error or a text in the active language; what carries no template speaks for itself."""
    text = said.args[0] if isinstance(said, Exception) and said.args else said
    if not isinstance(text, Text):
        return str(text)
    n = text.values.get("n")
    if text.plural and isinstance(n, int):
        return _WORDS.vformat(ngettext(text.template, text.plural, n), (), text.values)
    return _WORDS.vformat(gettext(text.template), (), text.values)


def _instant(value: datetime) -> str:
    """Write an instant on the plant's clock where a page has that, in UTC elsewhere, to the minute where it is one."""
    written = f"{timezone.localtime(value):%Y-%m-%d %H:%M:%S}".removesuffix(":00")
    return f"{written}Z" if timezone.get_current_timezone_name() == "UTC" else written


def number(value: float | Decimal, spec: str = "") -> str:
    """Write a number, formatted by `spec`, with the decimal sign of the active language."""
    text = format(value, spec)
    return in_percent(text.removesuffix("%")) if text.endswith("%") else formats.number_format(text)


def in_percent(number: str) -> str:
    """Write a rounded number of hundredths as per cent, with the sign and the space of the active language."""
    # As text: number_format cuts off where it is to round.
    return gettext("{share}%").replace("{share}", formats.number_format(number))
