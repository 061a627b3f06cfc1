"""What a customer asks for, checked field by field before anything is read or locked."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property

from inventory.order_errors import DuplicateSkuError, LineCountError, OrderFieldError, QuantityError

MAX_QUANTITY_SPOOLS = 100_000
MAX_LINES = 500
MAX_REFERENCE_LENGTH = 64
MAX_SHIP_TO_LENGTH = 200
WANTED_AHEAD_DAYS = 366
KEPT = "kept"
KINDS = ("regular", "project", "own_use", KEPT)
# Common practice, no source: who does not come back within a week does not come.
MOST_KEPT_DAYS = 7

Lines = tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class OrderDraft:
    """An order as a channel sends it.

    Parameters
    ----------
    channel_code : str
    reference : str
        Unique within the channel; 1 to 64 characters.
    lines : sequence of (SKU code, spools)
        1 to 500 lines, each SKU once, 1 to 100,000 spools.
    may_part_ship : bool
        Lines may leave on different days.
    wanted_day : date, optional
        Not to ship before this day.
    kind : {"regular", "project", "own_use", "kept"}
        Kept: nothing is ordered yet, its spools are kept on the shelf for a visitor until `kept_until`.
    kept_until : datetime, optional
        Of what is kept, and of nothing else.
    ship_to : str
        At most 200 characters.

    Raises
    ------
    InvalidInputError
        With a JSON pointer to the field that is outside these limits.
    """

    channel_code: str
    reference: str
    lines: Sequence[tuple[str, int]]
    may_part_ship: bool = False
    wanted_day: date | None = None
    kind: str = "regular"
    ship_to: str = ""
    kept_until: datetime | None = None

    def __post_init__(self) -> None:
        if not 1 <= len(self.reference.strip()) <= len(self.reference) <= MAX_REFERENCE_LENGTH:
            raise OrderFieldError(
                "The reference must have 1 to {most} characters, received {n}.",
                most=MAX_REFERENCE_LENGTH,
                n=len(self.reference),
                pointer="/reference",
            )
        if self.kind not in KINDS:
            raise OrderFieldError(
                "The kind is one of {kinds}; received {kind!r}.",
                kinds=", ".join(KINDS),
                kind=self.kind,
                pointer="/kind",
            )
        if (self.kept_until is not None) != (self.kind == KEPT):
            raise OrderFieldError("What is kept for a visitor has an end, and nothing else has.", pointer="/kept_until")
        if len(self.ship_to) > MAX_SHIP_TO_LENGTH:
            raise OrderFieldError(
                "ship_to may have {most} characters, received {n}.",
                most=MAX_SHIP_TO_LENGTH,
                n=len(self.ship_to),
                pointer="/ship_to",
            )
        object.__setattr__(self, "lines", checked_lines(self.lines))

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the body: equal for a repeat, other for another order under the same reference."""
        # Digests of orders from before anything was kept stay as they were stored.
        fields = {name: value for name, value in vars(self).items() if (name, value) != ("kept_until", None)}
        body = json.dumps(fields, sort_keys=True, default=_iso, ensure_ascii=False)
        return hashlib.sha256(body.encode()).hexdigest()


def checked_lines(lines: Sequence[tuple[str, int]]) -> Lines:
    """Return the lines, or raise with a pointer to the first one that breaks a rule."""
    if not 1 <= len(lines) <= MAX_LINES:
        raise LineCountError(
            "An order has 1 to {most} lines, received {n}.", most=MAX_LINES, n=len(lines), pointer="/lines"
        )
    first_index: dict[str, int] = {}
    for index, (code, quantity) in enumerate(lines):
        if code in first_index:
            raise DuplicateSkuError(
                "SKU {code} is on line {first} already; give it once with the sum.",
                code=code,
                first=first_index[code] + 1,
                pointer=f"/lines/{index}/sku",
            )
        first_index[code] = index
        _check_quantity(quantity, code=code, pointer=f"/lines/{index}/quantity")
    return tuple((code, quantity) for code, quantity in lines)


def _iso(value: date) -> str:
    """An instant is a day to the type system, and not to be cut to one."""
    return value.isoformat()


def check_wanted_day(wanted_day: date | None, *, today: date) -> None:
    """Refuse a wanted day that lies too far ahead to be meant."""
    if wanted_day is not None and (wanted_day - today).days > WANTED_AHEAD_DAYS:
        raise OrderFieldError(
            "The wanted day may be {most} days ahead of {today}, received {wanted_day}.",
            most=WANTED_AHEAD_DAYS,
            today=today,
            wanted_day=wanted_day,
            pointer="/wanted_day",
        )


def check_kept_until(kept_until: datetime, *, now: datetime) -> None:
    """Refuse an end that is past, or too far ahead for a visitor."""
    if not now < kept_until <= now + timedelta(days=MOST_KEPT_DAYS):
        raise OrderFieldError(
            "Spools are kept for a visitor until a time still to come, at most {most} days ahead; received "
            "{kept_until}.",
            most=MOST_KEPT_DAYS,
            kept_until=kept_until.isoformat(),
            pointer="/kept_until",
        )


def _check_quantity(quantity: int, *, code: str, pointer: str) -> None:
    is_whole = isinstance(quantity, int) and not isinstance(quantity, bool)
    if not is_whole or not 1 <= quantity <= MAX_QUANTITY_SPOOLS:
        raise QuantityError(
            "The quantity of {code} must be a whole number from 1 to {most}, received {quantity!r}.",
            code=code,
            most=MAX_QUANTITY_SPOOLS,
            quantity=quantity,
            pointer=pointer,
        )
