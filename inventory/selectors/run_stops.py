"""Stops as read: of one run, and the line hours lost by reason."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from inventory.models import RunStop


@dataclass(frozen=True)
class StopRow:
    """One stop. `went_on_at` is None while the line stands."""

    run_code: str
    line_code: str
    filament_code: str
    reason: str
    reason_label: str
    note: str
    stopped_at: datetime
    went_on_at: datetime | None

    def hours(self, *, first: datetime, until: datetime) -> float:
        """Return the hours of the stop that lie between two instants; an open one lasts until the second."""
        begun, ended = max(self.stopped_at, first), min(self.went_on_at or until, until)
        return max((ended - begun).total_seconds(), 0) / 3600


@dataclass(frozen=True)
class HoursLost:
    """Line hours lost for one reason."""

    reason: str
    reason_label: str
    stops: int
    hours: float


def stops_of_run(run_code: str, *, as_of: datetime | None = None) -> list[StopRow]:
    """Return the stops of a run in their order, as known at the instant. One query."""
    return _rows(Q(run__code=run_code), as_of=as_of)


def stops_between(first: datetime, until: datetime) -> list[StopRow]:
    """Return the stops that lie at least in part between two instants, in their order. One query."""
    ends_later = Q(went_on_at__isnull=True) | Q(went_on_at__gt=first)
    return _rows(Q(stopped_at__lt=until) & ends_later, as_of=None)


def hours_lost(stops: list[StopRow], *, first: datetime, until: datetime) -> list[HoursLost]:
    """Sum the hours between two instants by reason, the most first."""
    of_reason: defaultdict[str, list[StopRow]] = defaultdict(list)
    for stop in stops:
        of_reason[stop.reason].append(stop)
    lost = [
        HoursLost(reason, rows[0].reason_label, len(rows), sum(row.hours(first=first, until=until) for row in rows))
        for reason, rows in of_reason.items()
    ]
    return sorted(lost, key=lambda row: (-row.hours, row.reason))


def _rows(condition: Q, *, as_of: datetime | None) -> list[StopRow]:
    stops = RunStop.objects.filter(condition).select_related("run__line", "run__filament")
    if as_of is not None:
        stops = stops.filter(stopped_known_at__lte=as_of)
    return [_row(stop, as_of=as_of) for stop in stops.order_by("stopped_at", "id")]


def _row(stop: RunStop, *, as_of: datetime | None) -> StopRow:
    is_known = as_of is None or (stop.went_on_known_at is not None and stop.went_on_known_at <= as_of)
    return StopRow(
        run_code=stop.run.code,
        line_code=stop.run.line.code,
        filament_code=stop.run.filament.code,
        reason=stop.reason,
        reason_label=str(stop.get_reason_display()),
        note=stop.note,
        stopped_at=stop.stopped_at,
        went_on_at=stop.went_on_at if is_known else None,
    )
