"""The week on paper: the runs of the newest list that start in one ISO week, one sheet a line."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, time, timedelta

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from stockplan.planner.models import ListedRun
from stockplan.planner.pages.site import page, page_by_route, working_page
from stockplan.planner.selectors.list_pages import blocked_runs, newest_list, runs_by_line, runs_in_places, starts
from stockplan.planner.selectors.make_lists import (
    MakeListNotFoundError,
    line_day_totals,
    run_details,
)

# Sheets of all lines at once, unasked, only where they are few; else one line's.
MOST_RUNS_UNASKED = 60
ALL_LINES = "all"
MOST_BLOCKED = 30


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
    begun = starts(shown.id)
    weeks = sorted({iso_week(start) for _, start in begun})
    asked = request.GET.get("week", "")
    chosen = asked if asked in weeks else next(iter(weeks), "")
    of_week = Counter(line for line, start in begun if iso_week(start) == chosen)
    line = _line(request.GET.get("line", ""), of_week)
    runs = _in_week(runs_in_places(shown.id), chosen)
    details = run_details(runs if line == ALL_LINES else runs.filter(line__code=line))
    return page(
        request,
        "planner/week.html",
        about=about,
        make_list=shown,
        weeks=weeks,
        week=chosen,
        of_week=sorted(of_week.items()),
        line=line,
        lines=runs_by_line(details),
        totals=line_day_totals(details, zone=timezone.get_current_timezone()),
        blocked=blocked_runs(shown.id, most=MOST_BLOCKED),
    )


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
    return iso_week_of_day(timezone.localtime(instant).date())


def iso_week_of_day(day: date) -> str:
    """Return the ISO week of a local day, as 2027-W08."""
    return f"{day:%G-W%V}"
