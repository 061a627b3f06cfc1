"""The two clocks of a request: who may state them, and what a request that states none gets.

This is the only module of the API that reads the clock.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import TypeVar

from django.utils import timezone
from rest_framework.request import Request

from inventory.api.caller import caller_of
from inventory.api.fields import AsOfQuery
from inventory.api.views import checked_query
from inventory.errors import BooksError, InvalidInputError
from inventory.rules.clock import Clock
from inventory.selectors.ledger import books_opened_at

EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
LATEST = datetime(2100, 1, 1, tzinfo=UTC)
# Clocks of two machines differ; a fact stated this much ahead of the server is taken as happening now.
CLOCK_SKEW = timedelta(minutes=2)
Instant = TypeVar("Instant", datetime, datetime | None)


class ReplayNeededError(BooksError):
    """Only the scope `replay` may state when the books learned of a fact, or read them as of a past instant."""

    code = "replay_needed"


def write_clock(request: Request, *, stated: datetime | None, field: str = "occurred_at") -> Clock:
    """Return the clock of a fact that was reported by a request.

    With the scope `replay` the stated instant is also when the books learned of it. Without, it says only when
    the fact happened: the books learned of it now.

    Raises
    ------
    InvalidInputError
        If the instant is outside 2000 to 2100, before the opening of the books or, without `replay`, in the future.
    """
    now = _arrival_of(request)
    if stated is None:
        return Clock.at(now)
    instant_in_range(stated, where=f"/{field}")
    if field == "occurred_at" and (opened_at := books_opened_at()) is not None and stated < opened_at:
        raise InvalidInputError(
            "{field} {stated} is before the books opened at {opened_at}; what happened until then is in their "
            "opening stock.",
            field=field,
            stated=stated,
            opened_at=opened_at,
            pointer=f"/{field}",
        )
    if caller_of(request).may_replay:
        return Clock.at(stated)
    if stated > now + CLOCK_SKEW:
        raise InvalidInputError(
            "{field} {stated} is in the future; the server's clock says {now}.",
            field=field,
            stated=stated,
            now=now,
            pointer=f"/{field}",
        )
    return Clock(occurred_at=min(stated, now), known_at=now)


def receipt_clock(request: Request, *, stated: datetime | None) -> Clock:
    """Return the clock of an order's receipt, which fixes its due day and so may be stated by `replay` only.

    Raises
    ------
    ReplayNeededError
        If a caller without the scope `replay` states it.
    """
    if stated is not None and not caller_of(request).may_replay:
        raise ReplayNeededError(
            "received_at fixes the due day, so only a token with the scope replay may state it; leave it out.",
            pointer="/received_at",
        )
    return write_clock(request, stated=stated, field="received_at")


def _arrival_of(request: Request) -> datetime:
    """The instant of a request: one for all that it reports, so that what came in one body is of one time."""
    known: datetime | None = getattr(request, "arrived_at", None)
    if known is None:
        request.arrived_at = known = timezone.now()  # type: ignore[attr-defined]  # as its caller, see caller.py
    return known


def read_instant(request: Request, *, as_of: datetime | None, in_body: bool = False) -> datetime | None:
    """Return the instant as of which to read, or None for the books as they stand.

    Raises
    ------
    ReplayNeededError
        If a caller without the scope `replay` names an instant.
    InvalidInputError
        If the instant is outside 2000 to 2100.
    """
    if as_of is None:
        return None
    where = "/as_of" if in_body else "?as_of"
    if not caller_of(request).may_replay:
        raise ReplayNeededError("Only a token with the scope replay may name as_of; leave it out.", pointer=where)
    return instant_in_range(as_of, where=where)


def instant_asked(request: Request) -> datetime | None:
    """Return the instant as of which to read where that is all that a client may ask; as `read_instant`."""
    return read_instant(request, as_of=checked_query(AsOfQuery, request).get("as_of"))


def read_now(as_of: datetime | None) -> datetime:
    """Return the instant as of which to read where a selector must have one."""
    return timezone.now() if as_of is None else as_of


def day_in_range(day: date | None, *, where: str) -> date | None:
    """Return the day unless it is too far off for any calendar.

    Raises
    ------
    InvalidInputError
        If the day is outside 2000 to 2100.
    """
    if day is not None and not EARLIEST.date() <= day < LATEST.date():
        raise InvalidInputError(
            "{day} is outside {least:%Y-%m-%d} to {most:%Y-%m-%d}.", day=day, least=EARLIEST, most=LATEST, pointer=where
        )
    return day


def check_days(*, first: date, last: date) -> None:
    """Refuse the query parameters `first` and `last` if they are too far off or in the wrong order.

    Raises
    ------
    InvalidInputError
        If a day is outside 2000 to 2100, or `first` is after `last`.
    """
    day_in_range(first, where="?first")
    day_in_range(last, where="?last")
    if first > last:
        raise InvalidInputError("first {first} is after last {last}.", first=first, last=last, pointer="?first")


def instant_in_range(instant: Instant, *, where: str) -> Instant:
    """Return the instant unless it is too far off for any calendar.

    Raises
    ------
    InvalidInputError
        If the instant is outside 2000 to 2100.
    """
    if instant is not None and not EARLIEST <= instant < LATEST:
        raise InvalidInputError(
            "{instant} is outside {least:%Y-%m-%d} to {most:%Y-%m-%d}.",
            instant=instant,
            least=EARLIEST,
            most=LATEST,
            pointer=where,
        )
    return instant
