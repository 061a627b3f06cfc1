"""Cells: from text to values and back. What is written reads back as the same value, and is written the same again."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time
from decimal import Decimal

from inventory.errors import RuleError
from inventory.plant_files.columns import Kind

Value = str | int | Decimal | date | time | datetime | bool

# Spreadsheets write TRUE and FALSE for what a person calls yes and no.
_WORDS = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
_INTEGER = re.compile(r"-?[0-9]{1,12}")
_NUMBER = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,9})?")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_TIME = re.compile(r"[0-9]{2}:[0-9]{2}(:[0-9]{2})?")


class CellError(RuleError, ValueError):
    """A cell does not hold what its column says."""


def parse_cell(text: str, kind: Kind) -> Value:
    """Return the value of a filled cell.

    Raises
    ------
    CellError
        With a message that shows the text and how it should be written.
    """
    return _PARSERS[kind](text)


def write_cell(value: Value | None) -> str:
    """Return the one way to write a value; "" for None.

    Examples
    --------
    >>> write_cell(Decimal("1.750")), write_cell(Decimal("40")), write_cell(True), write_cell(None)
    ('1.75', '40', 'yes', '')
    >>> write_cell(time(13, 40)), write_cell(datetime(2027, 3, 1, 12, tzinfo=UTC))
    ('13:40', '2027-03-01T12:00:00Z')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return _plain(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, time):
        return value.isoformat(timespec="seconds" if value.second else "minutes")
    return value.isoformat() if isinstance(value, date) else str(value)


def _plain(value: Decimal) -> str:
    text = format(value, "f")
    return (text.rstrip("0").rstrip(".") or "0") if "." in text else text


def _integer(text: str) -> int:
    if not _INTEGER.fullmatch(text):
        raise CellError("{text!r} is not a whole number; write it like 1700.", text=text)
    return int(text)


def _number(text: str) -> Decimal:
    if not _NUMBER.fullmatch(text):
        raise CellError("{text!r} is not a number; write it with a decimal point, like 1.24.", text=text)
    # 1.750 is 1.75: trailing zeros are no decimals too many.
    return Decimal(text.rstrip("0").rstrip(".") if "." in text else text)


def _day(text: str) -> date:
    if not _DATE.fullmatch(text):
        raise CellError("{text!r} is not a date; write it as year-month-day, like 2027-03-01.", text=text)
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CellError("{text!r} is not a day of the calendar.", text=text) from None


def _wall_time(text: str) -> time:
    if not _TIME.fullmatch(text):
        raise CellError("{text!r} is not a time of day; write it like 13:40.", text=text)
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise CellError("{text!r} is not a time of day between 00:00 and 23:59.", text=text) from None


def _instant(text: str) -> datetime:
    try:
        instant = datetime.fromisoformat(text)
    except ValueError:
        raise CellError("{text!r} is not an instant; write it like 2027-03-01T13:40:00+01:00.", text=text) from None
    if instant.tzinfo is None:
        raise CellError("{text!r} has no offset from UTC; write it like 2027-03-01T13:40:00+01:00.", text=text)
    return instant.astimezone(UTC)


def _yes_no(text: str) -> bool:
    word = _WORDS.get(text.lower())
    if word is None:
        raise CellError("{text!r} is neither yes nor no.", text=text)
    return word


_PARSERS: Mapping[Kind, Callable[[str], Value]] = {
    Kind.TEXT: str,
    Kind.INTEGER: _integer,
    Kind.NUMBER: _number,
    Kind.DATE: _day,
    Kind.TIME: _wall_time,
    Kind.INSTANT: _instant,
    Kind.YES_NO: _yes_no,
}
