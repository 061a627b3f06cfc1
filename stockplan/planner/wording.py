"""Messages of the core in the language of whoever reads them."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import formats
from django.utils.translation import gettext, gettext_noop, ngettext

from forecasting.messages import Message, Wording
from inventory.wording import number


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


def said(words: Message) -> str:
    """Put a message into the reader's words."""
    return READERS.say(words)
