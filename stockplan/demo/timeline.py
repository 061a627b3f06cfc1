"""The days of the demo history: two years of whole weeks that end on the last day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

import holidays

from inventory.rules.calendar import DayRule, PlantCalendar

N_WEEKS = 104
LOOK_AHEAD_DAYS = 90
ZONE = ZoneInfo("Europe/Vienna")
HOLIDAY_COUNTRY = "AT"
CUT_OFF = time(13, 40)
PICK_UP = time(16, 20)
MORNING = time(6, 30)
FRIDAY = 4


@dataclass(frozen=True)
class Timeline:
    """The calendar of the demo: `N_WEEKS` weeks of history up to the end of `last_day`.

    Parameters
    ----------
    last_day
        Last local day on which orders arrived.
    """

    last_day: date

    @property
    def first_day(self) -> date:
        return self.last_day - timedelta(days=7 * N_WEEKS - 1)

    @cached_property
    def days(self) -> list[date]:
        """All days of the history, in order."""
        return [self.first_day + timedelta(days=n) for n in range(7 * N_WEEKS)]

    def weeks_ago(self, weeks: int) -> date:
        """First day of the last `weeks` weeks of the history."""
        return self.last_day - timedelta(days=7 * weeks - 1)

    def day_before_weeks_ago(self, weeks: int) -> date:
        """Last day before the last `weeks` weeks of the history."""
        return self.last_day - timedelta(days=7 * weeks)

    @cached_property
    def closures(self) -> dict[date, str]:
        """Days closed by the plant itself: the turn of the year, and Fridays after a holiday on a Thursday."""
        public = self._public_holidays
        closed = {day + timedelta(days=1): f"bridge day after {name}" for day, name in _thursdays(public)}
        for year in self._years:
            for day in (date(year, 12, 24) + timedelta(days=n) for n in range(8)):
                closed[day] = "closed over the turn of the year"
        return {day: reason for day, reason in sorted(closed.items()) if day not in public and day.weekday() <= FRIDAY}

    @cached_property
    def calendar(self) -> PlantCalendar:
        """Ship days of the plant, from the same rules that stand in its files."""
        rule = DayRule(cut_off=CUT_OFF, pick_up=PICK_UP)
        closed = frozenset(self.closures) | frozenset(self._public_holidays)
        return PlantCalendar(zone=ZONE, day_rules=dict.fromkeys(range(5), rule), closed_days=closed)

    @cached_property
    def ship_days(self) -> list[date]:
        """Ship days from the first day until well after the last."""
        return self.calendar.ship_days(self.first_day, self.last_day + timedelta(days=LOOK_AHEAD_DAYS))

    @property
    def as_of(self) -> datetime:
        """Morning of the first ship day after the history: the instant at which the demo stands."""
        next_day = next(day for day in self.ship_days if day > self.last_day)
        return datetime.combine(next_day, MORNING, tzinfo=ZONE)

    @property
    def _years(self) -> range:
        return range(self.first_day.year - 1, (self.last_day + timedelta(days=LOOK_AHEAD_DAYS)).year + 2)

    @cached_property
    def _public_holidays(self) -> dict[date, str]:
        return dict(holidays.country_holidays(HOLIDAY_COUNTRY, years=self._years, language="en_US"))


def _thursdays(days: dict[date, str]) -> list[tuple[date, str]]:
    return [(day, name) for day, name in days.items() if day.weekday() == FRIDAY - 1]
