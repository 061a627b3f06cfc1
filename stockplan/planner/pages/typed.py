"""Numbers and times that a person typed or scanned into the fields of a form."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from inventory.wording import in_words

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
    gettext_noop("tolerance"),
    gettext_noop("width"),
)


# What the services take one by one and a form in one field.
_TYPED_TOGETHER = {"readings": "diameters"}


class TypedError(ValueError):
    """A field does not hold what belongs there. The message names the field.

    Attributes
    ----------
    field : str
        Name of the field in the form, "" where no single one is at fault.
    """

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Fault:
    """Why a form was refused, and the field to put right, "" where no single one is at fault."""

    why: str
    field: str


def fault_of(error: Exception) -> Fault:
    """Return what a broken rule of the books, or of typing, says of a form. A rule's pointer `/good/PLA-1` is the field
    "good PLA-1", `/purge_kg` the field "purge kg".
    """
    if isinstance(error, TypedError):
        return Fault(in_words(error), error.field)
    name, *rest = getattr(error, "pointer", "").removeprefix("/").split("/")
    field = _TYPED_TOGETHER.get(name) or " ".join([name.replace("_", " "), *rest])
    return Fault(in_words(error), field)


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
    given = {
        name: _spools(_called(prefix, name), posted.get(prefix + name, "").strip(), most[name], field=prefix + name)
        for name in most
    }
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
        raise TypedError(why, field=name) from error


def numbers_of(name: str, text: str) -> list[Decimal]:
    """Return the numbers of a text, parted by blanks.

    Raises
    ------
    TypedError
        If a part is no number.
    """
    for part in text.split():
        if not _NUMBER.fullmatch(part):
            why = _("%(name)s: a number such as 1.75, got %(text)r.") % {"name": _(name), "text": part}
            raise TypedError(why, field=name)
    return [Decimal(part.replace(",", ".")) for part in text.split()]


def _spools(name: str, text: str, most: int, *, field: str) -> int:
    if not text:
        return 0
    spools = whole_number(text)
    if spools is None:
        why = _("%(name)s: a whole number of spools, got %(text)r.") % {"name": name, "text": text}
        raise TypedError(why, field=field)
    if spools > most:
        why = _("%(name)s: at most %(most)d spools, got %(text)s.") % {"name": name, "most": most, "text": text}
        raise TypedError(why, field=field)
    return spools
