"""The newest make list in the parts that its pages show: long lists are never read as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Count, F, FloatField, Q, Window
from django.db.models.functions import Coalesce, RowNumber

from forecasting.messages import Message
from inventory.models import Run
from stockplan.planner.models import ListedRun, MakeList, NotListed
from stockplan.planner.selectors.make_list_details import ListedRunDetail, NotListedDetail
from stockplan.planner.selectors.make_lists import (
    MakeListNotFoundError,
    listed_runs,
    newest_list_id,
    not_listed,
    not_listed_details,
    run_details,
)


@dataclass(frozen=True)
class MakeListHead:
    """A make list without its rows."""

    id: UUID
    as_of: datetime
    created_at: datetime
    first_day: date
    last_day: date
    state: str
    assumptions: tuple[Message, ...]
    misses_without: float
    misses_with: float
    misses_on_its_days: float | None
    limit: Message | None
    hours_short_per_week: float
    compute_seconds: float
    placed_runs: int
    blocked_runs: int


@dataclass(frozen=True)
class CauseGroup:
    """Filaments that a list leaves out for one cause: how many, and the first of them by code."""

    cause: str
    label: str
    filaments: int
    first: tuple[NotListedDetail, ...]


def newest_list() -> MakeListHead:
    """Return the newest make list. One query.

    Raises
    ------
    MakeListNotFoundError
        If none was computed yet.
    """
    counted = MakeList.objects.annotate(
        placed=Count("runs", filter=Q(runs__is_blocked=False)), blocked=Count("runs", filter=Q(runs__is_blocked=True))
    )
    row = counted.order_by("-as_of", "-created_at").first()
    if row is None:
        raise MakeListNotFoundError("There is no make list yet.")
    return MakeListHead(
        id=row.id,
        as_of=row.as_of,
        created_at=row.created_at,
        first_day=row.first_day,
        last_day=row.last_day,
        state=row.state,
        assumptions=tuple(row.assumptions),
        misses_without=row.misses_without,
        misses_with=row.misses_with,
        misses_on_its_days=row.misses_on_its_days,
        limit=row.limit,
        hours_short_per_week=row.hours_short_per_week,
        compute_seconds=row.compute_seconds,
        placed_runs=row.placed,
        blocked_runs=row.blocked,
    )


def blocked_runs(make_list_id: UUID, *, most: int | None = None) -> tuple[ListedRunDetail, ...]:
    """Return the runs that wait for materials, in rank order. Two queries."""
    return run_details(listed_runs(make_list_id).filter(is_blocked=True)[:most])


@dataclass(frozen=True)
class PurchaseDay:
    """What the newest list lacks and must be bought by a day: of each item its sum over so many runs."""

    day: date
    item_code: str
    name: str
    quantity: float
    unit: str
    runs: int


def purchase_days() -> list[PurchaseDay]:
    """Return what the blocked runs of the newest list lack, by the day until which to buy it. Four queries at most."""
    newest = newest_list_id()
    blocked = [] if newest is None else blocked_runs(newest)
    parts = [part for run in blocked for part in run.missing]
    days: dict[tuple[date, str], PurchaseDay] = {}
    for part in parts:
        before = days.get((part.buy_by, part.item_code))
        days[part.buy_by, part.item_code] = PurchaseDay(
            day=part.buy_by,
            item_code=part.item_code,
            name=part.name,
            quantity=part.quantity + (before.quantity if before else 0),
            unit=part.unit,
            runs=1 + (before.runs if before else 0),
        )
    return [days[key] for key in sorted(days)]


@dataclass(frozen=True)
class BarRun:
    """A run with its place in time, and its number in the list beside it. It begins with its changeover."""

    line_code: str
    number: int | None
    filament_code: str
    colour_hex: str
    start: datetime
    end: datetime
    changeover_min: float


def first_runs(make_list_id: UUID, *, most: int) -> list[BarRun]:
    """Return the runs that begin first, by start; released ones as they are planned now. One query."""
    placed = ListedRun.objects.filter(make_list_id=make_list_id, line__isnull=False, end__isnull=False)
    standing = placed.exclude(run__state=Run.State.CANCELLED).annotate(
        now_on=Coalesce("run__line__code", "line__code"),
        begins=Coalesce("run__planned_start", "start"),
        ends=Coalesce("run__planned_end", "end"),
        changes_min=Coalesce("run__changeover_min", "changeover_min", output_field=FloatField()),
    )
    fields = ("now_on", "rank", "filament__code", "filament__colour__hex", "begins", "ends", "changes_min")
    return [BarRun(*row) for row in standing.order_by("begins", "rank").values_list(*fields)[:most]]


def not_listed_by_cause(make_list_id: UUID, *, first: int) -> list[CauseGroup]:
    """Return what the list leaves out, by cause, of each cause the first filaments by code. Two queries.

    What could be made but is not comes before what there is enough of.
    """
    rows = not_listed(make_list_id)
    counts = dict(rows.order_by().values_list("cause").annotate(Count("pk")))
    place = Window(RowNumber(), partition_by=F("cause"), order_by="filament__code")
    shown = not_listed_details(rows.annotate(place=place).filter(place__lte=first))
    causes = [cause for cause in NotListed.Cause if cause != NotListed.Cause.ENOUGH] + [NotListed.Cause.ENOUGH]
    return [
        CauseGroup(cause, str(cause.label), counts[cause], tuple(row for row in shown if row.cause == cause))
        for cause in causes
        if cause in counts
    ]
