"""The promise week by week: the same shares as the service report, of each week by itself."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from inventory.rules.service import ServiceReport, Share, Shares, shares_of
from inventory.selectors.plant import ship_calendar
from inventory.selectors.service import report_of
from inventory.selectors.service_lines import service_lines

ONE_WEEK = timedelta(days=7)


@dataclass(frozen=True)
class WeekService:
    """What was due from a Monday to its Sunday and stocked, as far as its pick-ups are past."""

    monday: date
    stocked: Shares

    @property
    def shares(self) -> tuple[Share, Share, Share]:
        """Of orders, lines and spools, in this order."""
        return self.stocked.orders, self.stocked.lines, self.stocked.units


@dataclass(frozen=True)
class ServiceHistory:
    """Some weeks, each by itself and all together."""

    weeks: tuple[WeekService, ...]
    report: ServiceReport


def service_history(*, first_monday: date, weeks: int, as_of: datetime) -> ServiceHistory:
    """Return the shares of so many weeks, judged by the facts known as of the instant.

    The weeks leave out what is made to order, as the report's shares of what is stocked do. Eight queries, and three
    for every 5,000 missed lines.
    """
    last = first_monday + weeks * ONE_WEEK - timedelta(days=1)
    calendar = ship_calendar(first=min(first_monday, as_of.date() - timedelta(days=1)), last=last + timedelta(days=60))
    lines = service_lines(first=first_monday, last=last, as_of=as_of, calendar=calendar)
    judged = lines[(lines["day_end"] < as_of).fillna(value=False) & lines["is_stocked"]]
    week = judged["day"].map({day: (day - first_monday) // ONE_WEEK for day in judged["day"].unique()})
    return ServiceHistory(
        weeks=tuple(
            WeekService(monday=first_monday + number * ONE_WEEK, stocked=shares_of(judged[week == number]))
            for number in range(weeks)
        ),
        report=report_of(lines, first=first_monday, last=last, as_of=as_of),
    )
