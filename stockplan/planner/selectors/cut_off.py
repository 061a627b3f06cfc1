"""The cut-off that an order placed now has to meet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from inventory.selectors.plant import ship_calendar


@dataclass(frozen=True)
class CutOff:
    """The ship day of an order placed at `now`, and until when that stays so."""

    now: datetime
    ship_day: date
    cut_off_at: datetime
    pick_up_at: datetime

    @property
    def is_today(self) -> bool:
        return self.now.astimezone(self.cut_off_at.tzinfo).date() == self.ship_day


def next_cut_off(*, now: datetime) -> CutOff:
    """Return the cut-off that is next to come. Seven queries.

    Raises
    ------
    NotFoundError
        If no plant is loaded yet.
    """
    # A day to either side covers every zone; the calendar itself looks past its end for the next ship day.
    calendar = ship_calendar(first=now.date() - timedelta(days=1), last=now.date() + timedelta(days=1))
    ship_day = calendar.ship_day_of(now)
    return CutOff(
        now=now,
        ship_day=ship_day,
        cut_off_at=calendar.cut_off_at(ship_day).astimezone(calendar.zone),
        pick_up_at=calendar.pick_up_at(ship_day).astimezone(calendar.zone),
    )
