"""What stands on a line and what comes next, for its tablet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count

from inventory.models import DiameterReport, Line, Run
from inventory.selectors.run_stops import StopRow, stops_of_run
from stockplan.planner.errors import PlanningError
from stockplan.planner.selectors.run_card import RunCard, run_card


class LineNotFoundError(PlanningError):
    """There is no line of that code."""

    code = "line_not_found"


@dataclass(frozen=True)
class DiameterRow:
    """One report of diameters of the run that is under way."""

    occurred_at: datetime
    readings: int
    outside_readings: int


@dataclass(frozen=True)
class LineBoard:
    """A line with the run under way and the one that comes next; either may be missing.

    `dry_at` is when the resin of the next run has been dried for its hours, None where no drying was planned.
    """

    code: str
    name: str
    holds_code: str | None
    holds_hex: str | None
    current: RunCard | None
    started_at: datetime | None
    diameters: tuple[DiameterRow, ...]
    stops: tuple[StopRow, ...]
    upcoming: RunCard | None
    dry_at: datetime | None

    @property
    def open_stop(self) -> StopRow | None:
        """The stop for which the line stands now."""
        return next((stop for stop in self.stops if stop.went_on_at is None), None)


def line_codes() -> list[str]:
    """Return the lines in use. One query."""
    return list(Line.objects.filter(is_active=True).order_by("code").values_list("code", flat=True))


def line_board(code: str) -> LineBoard:
    """Return the board of a line. At most thirteen queries.

    Raises
    ------
    LineNotFoundError
        If there is no line in use of that code.
    """
    line = Line.objects.filter(code=code, is_active=True).select_related("holds__colour").first()
    if line is None:
        raise LineNotFoundError("There is no line {code} in use.", code=code)
    runs = Run.objects.filter(line=line).order_by("planned_start", "id")
    started = runs.filter(state=Run.State.STARTED).first()
    released = runs.filter(state=Run.State.RELEASED).first()
    upcoming = run_card(released.code) if released else None
    return LineBoard(
        code=line.code,
        name=line.name,
        holds_code=line.holds.code if line.holds else None,
        holds_hex=line.holds.colour.hex if line.holds else None,
        current=run_card(started.code) if started else None,
        started_at=started.started_at if started else None,
        diameters=_diameters(started) if started else (),
        stops=tuple(stops_of_run(started.code)) if started else (),
        upcoming=upcoming,
        dry_at=_dry_at(upcoming) if upcoming else None,
    )


def _dry_at(card: RunCard) -> datetime | None:
    return card.drying_from + timedelta(hours=card.resin_dry_hours) if card.drying_from else None


def _diameters(run: Run) -> tuple[DiameterRow, ...]:
    """Return the last reports of a run, the newest first."""
    reports = DiameterReport.objects.filter(run=run).annotate(count=Count("readings")).order_by("-occurred_at", "-id")
    return tuple(DiameterRow(row.occurred_at, row.count, row.outside_readings) for row in reports[:5])
