"""Make lists as read. Query count does not grow with the rows of a list."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet

from inventory.models import PlantParameters, Run
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, NotListed
from stockplan.planner.selectors.make_list_details import (
    ArrivalDetail,
    FloorPlan,
    LineDayTotal,
    ListedRunDetail,
    MakeListDetail,
    MissingDetail,
    NotListedDetail,
    SizeDetail,
)

__all__ = [
    "LineDayTotal",
    "ListedRunDetail",
    "MakeListDetail",
    "MakeListNotFoundError",
    "MissingDetail",
    "NotListedDetail",
    "SizeDetail",
    "latest_make_list",
    "listed_runs",
    "make_list_detail",
    "newest_list_id",
    "not_listed",
    "not_listed_details",
    "run_details",
    "runs_to_release",
    "runs_up_to",
]


class MakeListNotFoundError(PlanningError):
    """There is no make list of that id, or none yet."""

    code = "make_list_not_found"


def newest_list_id() -> UUID | None:
    """Return the id of the newest make list, None before the first. One query."""
    return MakeList.objects.order_by("-as_of", "-created_at").values_list("id", flat=True).first()


def latest_make_list(*, as_of: datetime | None = None) -> MakeListDetail:
    """Return the newest make list, as of an instant if one is given.

    Raises
    ------
    MakeListNotFoundError
        If none was computed until then.
    """
    lists = MakeList.objects.all() if as_of is None else MakeList.objects.filter(as_of__lte=as_of)
    newest = lists.order_by("-as_of", "-created_at").values_list("id", flat=True).first()
    if newest is None and as_of is None:
        raise MakeListNotFoundError("There is no make list yet.")
    if newest is None:
        raise MakeListNotFoundError("No make list as of {as_of}.", as_of=as_of)
    return make_list_detail(newest)


def make_list_detail(make_list_id: UUID | str) -> MakeListDetail:
    """Return one make list with its runs in rank order; five queries, however long the list."""
    make_list = MakeList.objects.select_related("forecast_run").filter(id=make_list_id).first()
    if make_list is None:
        raise MakeListNotFoundError("There is no make list {make_list}.", make_list=make_list_id)
    runs = run_details(listed_runs(make_list.id))
    return MakeListDetail(
        id=make_list.id,
        as_of=make_list.as_of,
        created_at=make_list.created_at,
        first_day=make_list.first_day,
        last_day=make_list.last_day,
        state=make_list.state,
        runs=runs,
        not_listed=not_listed_details(not_listed(make_list.id)),
        totals=line_day_totals(runs, zone=plant_zone()),
        assumptions=tuple(make_list.assumptions),
        misses_without=make_list.misses_without,
        misses_with=make_list.misses_with,
        misses_on_its_days=make_list.misses_on_its_days,
        limit=make_list.limit,
        hours_short_per_week=make_list.hours_short_per_week,
        forecast_run_id=make_list.forecast_run_id,
        benchmarks=tuple(make_list.forecast_run.benchmarks),
        compute_seconds=make_list.compute_seconds,
    )


def plant_zone() -> ZoneInfo:
    """Return the plant's time zone (one query)."""
    return ZoneInfo(PlantParameters.objects.values_list("time_zone", flat=True).get())


def line_day_totals(runs: tuple[ListedRunDetail, ...], *, zone: ZoneInfo) -> tuple[LineDayTotal, ...]:
    """Sum placed runs by line and by the local day on which they start."""
    groups: defaultdict[tuple[str, date], list[ListedRunDetail]] = defaultdict(list)
    for run in runs:
        if run.line_code is not None and run.start is not None:
            groups[run.line_code, run.start.astimezone(zone).date()].append(run)
    return tuple(_total(line, day, group) for (line, day), group in sorted(groups.items()))


def _total(line: str, day: date, group: list[ListedRunDetail]) -> LineDayTotal:
    return LineDayTotal(
        line_code=line,
        day=day,
        runs=len(group),
        spools=sum(run.spools for run in group),
        good_kg=sum(run.good_kg for run in group),
        run_min=sum(run.run_min for run in group),
        changeover_min=sum(run.changeover_min for run in group),
        purge_kg=sum(run.purge_kg for run in group),
        misses_avoided=sum(run.misses_avoided for run in group),
    )


def listed_runs(make_list_id: UUID) -> QuerySet[ListedRun]:
    """Return the runs of a list in rank order, with what `run_details` reads of them. Two queries when read."""
    return (
        ListedRun.objects.filter(make_list=make_list_id)
        .select_related(
            "filament__colour",
            "filament__material",
            "filament__diameter",
            "line",
            "hopper",
            "changeover_from__colour",
            "run__line",
        )
        # Joined: a look-up of SKUs by their item is a chain of ORs, too deep for SQLite from 1,000 on.
        .prefetch_related(Prefetch("sizes", ListedRunSize.objects.select_related("sku__item", "sku__spool_size")))
        .order_by("rank")
    )


def runs_to_release(make_list_id: UUID) -> QuerySet[ListedRun]:
    """Return the runs of a list that can be released and are not."""
    return ListedRun.objects.filter(make_list_id=make_list_id, is_blocked=False, run__isnull=True)


def runs_up_to(make_list_id: UUID) -> dict[int, int]:
    """Return by listed run that can be released how many of its line are to be with it: itself and those before it."""
    found: dict[int, int] = {}
    on_line: Counter[int | None] = Counter()
    rows = runs_to_release(make_list_id).order_by("line_id", "place_on_line")
    for pk, line_id in rows.values_list("pk", "line_id"):
        on_line[line_id] += 1
        found[pk] = on_line[line_id]
    return found


def run_details(runs: Iterable[ListedRun]) -> tuple[ListedRunDetail, ...]:
    """Return runs as they are shown."""
    return tuple(_run_detail(run) for run in runs)


def _run_detail(run: ListedRun) -> ListedRunDetail:
    filament = run.filament
    return ListedRunDetail(
        id=run.pk,
        rank=run.rank,
        filament_code=filament.code,
        colour_name=filament.colour.name,
        colour_hex=filament.colour.hex,
        material_code=filament.material.code,
        material_name=filament.material.name,
        diameter_mm=float(filament.diameter.nominal_mm),
        line_code=run.line.code if run.line else None,
        place_on_line=run.place_on_line,
        start=run.start,
        end=run.end,
        shelf_at=run.shelf_at,
        shelf_day=run.shelf_day,
        changeover_from_code=run.changeover_from.code if run.changeover_from else None,
        changeover_from_hex=run.changeover_from.colour.hex if run.changeover_from else None,
        changeover_min=run.changeover_min,
        run_min=run.run_min,
        purge_kg=run.purge_kg,
        resin_kg=run.resin_kg,
        concentrate_kg=run.concentrate_kg,
        hopper_code=run.hopper.code if run.hopper else None,
        drying_from=run.drying_from,
        misses_avoided=run.misses_avoided,
        worth_per_hour=run.worth_per_hour,
        runs_out_on=run.runs_out_on,
        reason=run.reason,
        explanation=tuple(run.explanation),
        more_if_dropped=run.more_if_dropped,
        more_a_day_later=run.more_a_day_later,
        is_blocked=run.is_blocked,
        missing=tuple(_missing(row) for row in run.missing),
        is_pinned=run.is_pinned,
        run_code=run.run.code if run.run else None,
        run_state=run.run.state if run.run else None,
        now=_floor_plan(run.run) if run.run else None,
        sizes=_sizes(run),
    )


def _floor_plan(run: Run) -> FloorPlan:
    start = run.started_at or run.planned_start
    end = run.finished_at or start + (run.planned_end - run.planned_start)
    return FloorPlan(str(run.get_state_display()), run.line.code, start, end)


def _sizes(run: ListedRun) -> tuple[SizeDetail, ...]:
    rows = [
        SizeDetail(
            sku_code=size.sku.item.code,
            net_g=size.sku.spool_size.net_g,
            spools=size.spools,
            free=size.free,
            order_up_to=size.order_up_to,
            misses_avoided=size.misses_avoided,
            arrivals=tuple(ArrivalDetail(date.fromisoformat(a["day"]), a["spools"]) for a in size.arrivals),
        )
        for size in run.sizes.all()
    ]
    return tuple(sorted(rows, key=lambda size: (size.net_g, size.sku_code)))


def _missing(row: dict[str, Any]) -> MissingDetail:
    return MissingDetail(
        item_code=row["item"],
        name=row["name"],
        quantity=row["quantity"],
        unit=row["unit"],
        buy_by=date.fromisoformat(row["buy_by"]),
    )


def not_listed(make_list_id: UUID) -> QuerySet[NotListed]:
    """Return what a list leaves out, by filament, with what `not_listed_details` reads. One query when read."""
    rows = NotListed.objects.filter(make_list=make_list_id)
    return rows.select_related("filament__colour", "filament__material", "filament__diameter").order_by(
        "filament__code"
    )


def not_listed_details(rows: Iterable[NotListed]) -> tuple[NotListedDetail, ...]:
    """Return what is left out as it is shown."""
    return tuple(
        NotListedDetail(
            filament_code=row.filament.code,
            material_name=row.filament.material.name,
            colour_name=row.filament.colour.name,
            colour_hex=row.filament.colour.hex,
            diameter_mm=float(row.filament.diameter.nominal_mm),
            cause=row.cause,
            sentence=row.sentence,
        )
        for row in rows
    )
