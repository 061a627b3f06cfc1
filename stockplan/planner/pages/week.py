"""The week on paper: the runs of the newest list that start in one ISO week, line by line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from stockplan.planner.pages.site import page, page_by_route, working_page
from stockplan.planner.selectors.make_lists import (
    ListedRunDetail,
    MakeListDetail,
    MakeListNotFoundError,
    latest_make_list,
)


@require_safe
@working_page("planner.view_makelist")
def week(request: HttpRequest) -> HttpResponse:
    """Show one week of the newest list, its first week unless `?week=2027-W08` names another."""
    about = page_by_route("pages:week")
    try:
        shown = latest_make_list()
    except MakeListNotFoundError:
        return page(request, "planner/week.html", about=about, make_list=None)
    weeks = sorted({iso_week(run.start) for run in shown.runs if run.start})
    asked = request.GET.get("week", "")
    chosen = asked if asked in weeks else next(iter(weeks), "")
    return page(
        request,
        "planner/week.html",
        about=about,
        make_list=shown,
        weeks=weeks,
        week=chosen,
        lines=runs_by_line(run for run in shown.runs if run.start and iso_week(run.start) == chosen),
        totals=[total for total in shown.totals if iso_week_of_day(total.day) == chosen],
        blocked=blocked_runs(shown),
    )


def runs_by_line(runs: Iterable[ListedRunDetail]) -> list[tuple[str, list[ListedRunDetail]]]:
    """Group placed runs by line, each line in the order in which it makes them."""
    lines: defaultdict[str, list[ListedRunDetail]] = defaultdict(list)
    for run in runs:
        if run.line_code is not None:
            lines[run.line_code].append(run)
    return [(line, sorted(group, key=lambda run: run.place_on_line or 0)) for line, group in sorted(lines.items())]


def blocked_runs(shown: MakeListDetail) -> list[ListedRunDetail]:
    """Return the runs that wait for materials, in rank order."""
    return [run for run in shown.runs if run.is_blocked]


def iso_week(instant: datetime) -> str:
    """Return the ISO week of an instant in the plant's zone, as 2027-W08."""
    return iso_week_of_day(timezone.localtime(instant).date())


def iso_week_of_day(day: date) -> str:
    """Return the ISO week of a local day, as 2027-W08."""
    return f"{day:%G-W%V}"
