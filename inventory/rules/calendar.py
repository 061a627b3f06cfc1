"""The plant's time: ship days, cut-off, shifts, and when a wound spool reaches the shelf.

Every instant that goes in or comes out is aware. Rules are stated in local wall time and turned into instants by
the plant's IANA zone; what lasts hours (drying) is counted in elapsed time, so that a night with a change of the
clock is an hour shorter or longer on the wall, never in the oven.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from inventory.errors import RuleError

SEARCH_LIMIT_DAYS = 400


class CalendarError(RuleError, ValueError):
    """The calendar is contradictory, or has no such day within the search limit."""


@dataclass(frozen=True)
class DayRule:
    """The clock of one weekday, local time. No cut-off: no parcels leave. No `pack_from`: nobody packs."""

    cut_off: time | None = None
    pick_up: time | None = None
    oven_load_at: time | None = None
    pack_from: time | None = None
    shelf_ready: time | None = None
    pack_spools: int = 0

    def __post_init__(self) -> None:
        if (self.cut_off is None) != (self.pick_up is None):
            raise CalendarError("A ship day needs both a cut-off and a pick-up.")
        if self.cut_off and self.pick_up and self.pick_up < self.cut_off:
            raise CalendarError(
                "The pick-up at {pick_up} is before the cut-off at {cut_off}.",
                pick_up=self.pick_up,
                cut_off=self.cut_off,
            )
        if (self.pack_from is None) != (self.shelf_ready is None):
            raise CalendarError("A packing day needs both the start of packing and the hour by which it is shelved.")


@dataclass(frozen=True)
class Window:
    """Local working time that begins on `weekday`; an end at or before the start is on the next day."""

    weekday: int
    start: time
    end: time


@dataclass(frozen=True)
class CrewWindow(Window):
    """A window in which `size` changeovers can be made at once."""

    size: int = 1


@dataclass(frozen=True)
class PlantCalendar:
    """Ship days and working time of one plant.

    Parameters
    ----------
    zone
        IANA zone of the plant.
    day_rules
        Rule of each weekday, 0 = Monday. A weekday that is left out has none.
    closed_days
        Local days on which the plant neither ships, packs, loads ovens nor begins a shift.
    shifts
        Windows of each line, by line code.
    crews
        Windows in which changeovers can be made. Empty: whenever a line works.
    """

    zone: ZoneInfo
    day_rules: Mapping[int, DayRule]
    closed_days: frozenset[date] = frozenset()
    shifts: Mapping[str, tuple[Window, ...]] = field(default_factory=dict)
    crews: tuple[CrewWindow, ...] = ()

    def __post_init__(self) -> None:
        if not any(rule.cut_off for rule in self.day_rules.values()):
            raise CalendarError("No weekday has a cut-off: nothing could ever ship.")

    def local_day(self, instant: datetime) -> date:
        """Return the plant's date at an instant."""
        return _aware(instant).astimezone(self.zone).date()

    def at(self, day: date, wall_time: time) -> datetime:
        """Return the instant of a local wall time, in UTC (a time that the spring change skips: one hour later)."""
        return datetime.combine(day, wall_time, tzinfo=self.zone).astimezone(UTC)

    # Ship days

    def is_ship_day(self, day: date) -> bool:
        """Say whether parcels leave on a local day."""
        return day not in self.closed_days and self._rule(day).cut_off is not None

    def ship_day_of(self, instant: datetime) -> date:
        """Return the ship day of an order that arrives at `instant`. Exactly at the cut-off is late."""
        day = self.local_day(instant)
        if self.is_ship_day(day) and instant < self.cut_off_at(day):
            return day
        return self.nth_ship_day_after(day + timedelta(days=1), 0)

    def due_day(self, received_at: datetime, wanted_day: date | None) -> date:
        """Return max(ship day by the cut-off at receipt, day the customer asked for).

        A wanted day on which nothing ships moves to the next ship day.
        """
        ship_day = self.ship_day_of(received_at)
        if wanted_day is None or wanted_day <= ship_day:
            return ship_day
        return self.nth_ship_day_after(wanted_day, 0)

    def nth_ship_day_after(self, day: date, n: int) -> date:
        """Return the n-th ship day after `day`; n = 0 is `day` itself, or the next ship day if it is none."""
        if n < 0:
            raise CalendarError("n must not be negative, got {n}.", n=n)
        start = day if n == 0 else day + timedelta(days=1)
        left = max(n, 1)
        for candidate in _days_from(start, limit=SEARCH_LIMIT_DAYS + 8 * n):
            left -= self.is_ship_day(candidate)
            if left == 0:
                return candidate
        raise CalendarError(
            "No ship day number {n} after {day} within {limit} days.", n=n, day=day, limit=SEARCH_LIMIT_DAYS
        )

    def ship_days(self, first: date, last: date) -> list[date]:
        """Return the ship days from `first` to `last`, both included."""
        span = (last - first).days + 1
        return [day for day in _days_from(first, limit=max(span, 0)) if self.is_ship_day(day)]

    def cut_off_at(self, day: date) -> datetime:
        """Return the instant of the cut-off of a ship day."""
        cut_off = self._rule(day).cut_off
        if cut_off is None or not self.is_ship_day(day):
            raise CalendarError("{day} is not a ship day.", day=day)
        return self.at(day, cut_off)

    def pick_up_at(self, day: date) -> datetime:
        """Return the instant at which the parcels of a ship day leave."""
        pick_up = self._rule(day).pick_up
        if pick_up is None or not self.is_ship_day(day):
            raise CalendarError("{day} is not a ship day.", day=day)
        return self.at(day, pick_up)

    # From the line to the shelf

    def oven_load_after(self, instant: datetime) -> datetime:
        """Return the first time at or after `instant` at which the ovens are loaded."""
        return self._first_at(instant, "oven_load_at", "oven_load_at")

    def shelf_at(self, wound_at: datetime, *, dry_h: float) -> datetime:
        """Return when spools that are wound by `wound_at` lie packed on the shelf.

        They wait for the next oven load, dry for `dry_h` elapsed hours, wait for the next packing shift that starts
        after that, and are shelved by its shelf-ready time. Spools that need no drying skip the oven. How many an
        oven or a packing shift can take is not looked at here.
        """
        ready = wound_at
        if dry_h > 0:
            ready = self.oven_load_after(wound_at) + timedelta(hours=dry_h)
        return self._first_at(ready, "pack_from", "shelf_ready")

    def first_ship_day(self, shelf_at: datetime) -> date:
        """Return the first ship day whose pick-up is at or after the time of shelving."""
        day = self.local_day(shelf_at)
        for candidate in _days_from(day, limit=SEARCH_LIMIT_DAYS):
            if self.is_ship_day(candidate) and self.pick_up_at(candidate) >= shelf_at:
                return candidate
        raise CalendarError("No ship day within {limit} days after {day}.", limit=SEARCH_LIMIT_DAYS, day=day)

    # Shifts

    def working_windows(self, line_code: str, start: datetime, end: datetime) -> list[tuple[datetime, datetime]]:
        """Return the line's working time within [start, end) as disjoint UTC intervals in order.

        A shift belongs to the day on which it begins: one that begins on an open day goes on past midnight into a
        closed one; none begins on a closed day.
        """
        return self._windows(self.shifts.get(line_code, ()), start, end)

    def crew_windows(self, start: datetime, end: datetime) -> list[tuple[datetime, datetime, int]]:
        """Return (from, to, changeovers at once) within [start, end), in order; windows may overlap and then add."""
        found = [(lo, hi, crew.size) for crew in self.crews for lo, hi in self._windows((crew,), start, end)]
        return sorted(found)

    # Inner workings

    def _rule(self, day: date) -> DayRule:
        return self.day_rules.get(day.weekday(), DayRule())

    def _first_at(self, instant: datetime, begins: str, answers: str) -> datetime:
        """Return `answers` of the first open day whose `begins` is at or after the instant."""
        for day in _days_from(self.local_day(instant), limit=SEARCH_LIMIT_DAYS):
            begin = getattr(self._rule(day), begins)
            if begin is not None and day not in self.closed_days and self.at(day, begin) >= instant:
                return self.at(day, getattr(self._rule(day), answers))
        raise CalendarError(
            "No day with {begins} within {limit} days after {instant:%Y-%m-%d}.",
            begins=begins,
            limit=SEARCH_LIMIT_DAYS,
            instant=instant,
        )

    def _windows(self, windows: tuple[Window, ...], start: datetime, end: datetime) -> list[tuple[datetime, datetime]]:
        first = self.local_day(start) - timedelta(days=1)
        span = (self.local_day(end) - first).days + 1
        pieces = []
        for day in _days_from(first, limit=max(span, 0)):
            if day in self.closed_days:
                continue
            for window in windows:
                if window.weekday != day.weekday():
                    continue
                last_day = day if window.end > window.start else day + timedelta(days=1)
                lo = max(self.at(day, window.start), start.astimezone(UTC))
                hi = min(self.at(last_day, window.end), end.astimezone(UTC))
                if lo < hi:
                    pieces.append((lo, hi))
        return _merged(sorted(pieces))


@dataclass(frozen=True)
class WorkingTime:
    """The working time of one line laid end to end, to add minutes of work to an instant quickly.

    Parameters
    ----------
    windows
        Disjoint intervals in order, as `PlantCalendar.working_windows` gives them.
    """

    windows: tuple[tuple[datetime, datetime], ...]

    def next_open(self, instant: datetime) -> datetime | None:
        """Return the first working instant at or after `instant`, None where the windows end."""
        index = self._index(instant)
        if index == len(self.windows):
            return None
        return max(self.windows[index][0], instant)

    def add(self, instant: datetime, minutes: float) -> datetime | None:
        """Return when `minutes` of work that begin at or after `instant` are done, None past the last window."""
        left = timedelta(minutes=minutes)
        for lo, hi in self.windows[self._index(instant) :]:
            begin = max(lo, instant)
            if begin + left <= hi:
                return begin + left
            left -= hi - begin
        return None

    def minutes_between(self, start: datetime, end: datetime) -> float:
        """Return the minutes of work within [start, end)."""
        total = timedelta()
        for lo, hi in self.windows:
            total += max(min(hi, end) - max(lo, start), timedelta())
        return total.total_seconds() / 60

    def _index(self, instant: datetime) -> int:
        """Index of the first window that ends after the instant."""
        return bisect_right(self.windows, instant, key=lambda window: window[1])


def _aware(instant: datetime) -> datetime:
    if instant.tzinfo is None:
        raise CalendarError("{instant} has no time zone.", instant=instant)
    return instant


def _days_from(day: date, *, limit: int) -> Iterator[date]:
    for offset in range(limit):
        yield day + timedelta(days=offset)


def _merged(pieces: list[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    merged: list[tuple[datetime, datetime]] = []
    for lo, hi in pieces:
        if merged and lo <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(hi, merged[-1][1]))
        else:
            merged.append((lo, hi))
    return merged
