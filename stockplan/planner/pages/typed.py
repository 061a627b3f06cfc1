"""Numbers and times that a person typed or scanned into the fields of a form."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

_NUMBER = re.compile(r"[0-9]{1,9}([.,][0-9]{1,4})?")
# More digits fit no key of the database, and Python itself takes at most 4,300.
_WHOLE = re.compile(r"[0-9]{1,18}")
# What the fields of forms are called that errors name; those of one row each have its code behind the word.
_FIELDS = (
    gettext_noop("cartons"),
    gettext_noop("concentrate kg"),
    gettext_noop("diameters"),
    gettext_noop("good"),
    gettext_noop("height"),
    gettext_noop("line"),
    gettext_noop("purge kg"),
    gettext_noop("real minutes"),
    gettext_noop("resin kg"),
    gettext_noop("scrap"),
    gettext_noop("spools"),
    gettext_noop("width"),
)


class TypedError(ValueError):
    """A field does not hold what belongs there. The message names the field."""


def whole_number(text: str) -> int | None:
    """Return a whole number of at most 18 digits, None of any other text."""
    return int(text) if _WHOLE.fullmatch(text) else None


def spools_given(posted: Mapping[str, str], *, prefix: str, most: Mapping[str, int]) -> dict[str, int]:
    """Return the spools by name of the field that were given; an empty field and 0 give none.

    Parameters
    ----------
    posted
        The form as it came; a field is called `prefix` and its name.
    most
        The most spools that each name may have.

    Raises
    ------
    TypedError
        If a field holds no whole number, or more than it may.
    """
    given = {name: _spools(_called(prefix, name), posted.get(prefix + name, "").strip(), most[name]) for name in most}
    return {name: spools for name, spools in given.items() if spools}


def _called(prefix: str, name: str) -> str:
    return f"{_(prefix.strip())} {name}" if prefix else _(name)


def number_given(posted: Mapping[str, str], name: str) -> Decimal | None:
    """Return the number of a field, None where it is empty. A comma is taken as the decimal sign too.

    Raises
    ------
    TypedError
        If the field holds anything else.
    """
    text = posted.get(name, "").strip()
    return numbers_of(name, text)[0] if text else None


def instant_given(posted: Mapping[str, str], name: str) -> datetime | None:
    """Return the instant of a field for day and time in the plant's zone, None where it is empty.

    Raises
    ------
    TypedError
        If the field holds anything else.
    """
    text = posted.get(name, "").strip()
    if not text:
        return None
    try:
        return datetime.strptime(text, "%Y-%m-%dT%H:%M").replace(tzinfo=timezone.get_current_timezone())
    except ValueError as error:
        why = _("%(name)s: a day and time such as 2027-03-01T06:30, got %(text)r.") % {"name": name, "text": text}
        raise TypedError(why) from error


def numbers_of(name: str, text: str) -> list[Decimal]:
    """Return the numbers of a text, parted by blanks.

    Raises
    ------
    TypedError
        If a part is no number.
    """
    for part in text.split():
        if not _NUMBER.fullmatch(part):
            raise TypedError(_("%(name)s: a number such as 1.75, got %(text)r.") % {"name": _(name), "text": part})
    return [Decimal(part.replace(",", ".")) for part in text.split()]


def _spools(name: str, text: str, most: int) -> int:
    if not text:
        return 0
    spools = whole_number(text)
    if spools is None:
        raise TypedError(_("%(name)s: a whole number of spools, got %(text)r.") % {"name": name, "text": text})
    if spools > most:
        raise TypedError(
            _("%(name)s: at most %(most)d spools, got %(text)s.") % {"name": name, "most": most, "text": text}
        )
    return spools
