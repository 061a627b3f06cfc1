"""The week on paper: the runs of the newest list that start in one ISO week, one sheet a line."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from stockplan.planner.models import ListedRun
from stockplan.planner.pages.site import page, page_by_route, working_page
from stockplan.planner.selectors.list_pages import blocked_runs, newest_list, runs_by_line, runs_in_places, starts
from stockplan.planner.selectors.make_list_details import ListedRunDetail
from stockplan.planner.selectors.make_lists import (
    MakeListNotFoundError,
    line_day_totals,
    run_details,
)

# Sheets of all lines at once, unasked, only where they are few; else one line's.
MOST_RUNS_UNASKED = 60
ALL_LINES = "all"
MOST_BLOCKED = 30
CAUTION = _(
    "Melt, dies and ovens burn; pullers and winders draw in; dust and fumes need extraction; bins are heavy. Work by "
    "the machine's manual, the resin supplier's data sheets, the local codes and the instruction of the person in "
    "charge. Setpoints are the plant's own data."
)


@require_safe
@working_page("planner.view_makelist")
def week(request: HttpRequest) -> HttpResponse:
    """Show one week of the newest list, its first week unless `?week=2027-W08` names another.

    `?line=` names the line whose sheet is wanted, or all of them.
    """
    about = page_by_route("pages:week")
    try:
        shown = newest_list()
    except MakeListNotFoundError:
        return page(request, "planner/week.html", about=about, make_list=None)
    found = week_shown(shown.id, week=request.GET.get("week", ""), line=request.GET.get("line", ""))
    return page(
        request,
        "planner/week.html",
        about=about,
        make_list=shown,
        caution=CAUTION,
        weeks=found.weeks,
        week=found.week,
        of_week=found.of_week,
        line=found.line,
        lines=found.lines,
        totals=line_day_totals(found.runs, zone=timezone.get_current_timezone()),
        blocked=blocked_runs(shown.id, most=MOST_BLOCKED),
    )


@dataclass(frozen=True)
class WeekShown:
    """One week of a list: its weeks, how many runs each line has in the chosen one, the line shown and its runs."""

    weeks: list[str]
    week: str
    of_week: list[tuple[str, int]]
    line: str
    runs: tuple[ListedRunDetail, ...]

    @property
    def lines(self) -> list[tuple[str, list[ListedRunDetail]]]:
        """The runs by line."""
        return runs_by_line(self.runs)


def week_shown(make_list_id: UUID, *, week: str, line: str) -> WeekShown:
    """Return the week asked for, else the first one, of the line asked for. Three queries."""
    begun = starts(make_list_id)
    weeks = sorted({iso_week(start) for _, start in begun})
    chosen = week if week in weeks else next(iter(weeks), "")
    of_week = Counter(code for code, start in begun if iso_week(start) == chosen)
    shown = _line(line, of_week)
    runs = _in_week(runs_in_places(make_list_id), chosen)
    details = run_details(runs if shown == ALL_LINES else runs.filter(line__code=shown))
    return WeekShown(weeks, chosen, sorted(of_week.items()), shown, details)


def _line(asked: str, of_week: Counter[str]) -> str:
    """Return the line whose sheet is shown, `ALL_LINES` for every one."""
    if asked in {ALL_LINES, *of_week}:
        return asked
    return ALL_LINES if of_week.total() <= MOST_RUNS_UNASKED else min(of_week)


def _in_week(runs: QuerySet[ListedRun], week: str) -> QuerySet[ListedRun]:
    """Return the runs that start in an ISO week of the plant's zone; none for no week."""
    if not week:
        return runs.none()
    monday = date.fromisocalendar(int(week[:4]), int(week[6:]), 1)
    first, end = (timezone.make_aware(datetime.combine(day, time())) for day in (monday, monday + timedelta(days=7)))
    return runs.filter(start__gte=first, start__lt=end)


def iso_week(instant: datetime) -> str:
    """Return the ISO week of an instant in the plant's zone, as 2027-W08."""
    return f"{timezone.localtime(instant):%G-W%V}"
