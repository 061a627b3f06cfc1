"""Messages of the core in the language of whoever reads them."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import formats
from django.utils.translation import gettext, gettext_noop, ngettext

from forecasting.errors import ForecastingError
from forecasting.messages import Message, Wording
from forecasting.methods.candidates import words_of
from inventory.errors import RuleError
from inventory.rules.texts import Text
from inventory.wording import in_words, number


class ReadersWording(Wording):
    """Templates by the active catalogue; days, instants and numbers as the active language writes them."""

    def template_of(self, said: Message) -> str:
        """Return the template in the active language."""
        if said.plural:
            return ngettext(said.template, said.plural, said.values["n"])
        return gettext(said.template) if said.template else ""

    def number(self, value: float, spec: str) -> str:
        """Write a number with the decimal sign of the active language."""
        return number(value, spec)

    def day(self, value: date) -> str:
        """Write a day as the pages do."""
        return formats.date_format(value, "SHORT_DATE_FORMAT")

    def moment(self, value: datetime) -> str:
        """Write an instant as the pages do, in the zone that it has."""
        return formats.date_format(value, "SHORT_DATETIME_FORMAT")


READERS = ReadersWording()
# Codes of the forecast that the pages show as words, marked for translators.
DEMAND_CLASSES = (
    gettext_noop("smooth"),
    gettext_noop("intermittent"),
    gettext_noop("erratic"),
    gettext_noop("lumpy"),
    gettext_noop("new"),
    gettext_noop("sparse"),
)


def method_said(name: str) -> str:
    """Put a method of the forecast, as the tables name it, into the reader's words."""
    return said(words_of(name))


def said(words: Message) -> str:
    """Put a message into the reader's words."""
    return READERS.say(words)


def rule_said(rule: Exception) -> str:
    """Put a broken rule of books, plan or forecast into the reader's words."""
    return said(rule.said) if isinstance(rule, ForecastingError) else in_words(rule)


def kept(rule: RuleError) -> Message:
    """Return a broken rule as a message, to be kept and said to whoever reads it later."""
    return _as_message(rule.text)


def _as_message(text: Text) -> Message:
    values = {
        name: _as_message(value) if isinstance(value, Text) else value if isinstance(value, int | float) else str(value)
        for name, value in text.values.items()
    }
    return Message(text.template, values, text.plural)
