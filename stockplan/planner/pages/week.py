"""The week on paper: what each line makes in one ISO week, as it stands now, one sheet a line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from operator import attrgetter

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from stockplan.planner.pages.site import page, working_page
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.line_orders import LineOrders, LineRun, line_orders
from stockplan.planner.selectors.list_pages import blocked_runs

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
    """Show what the lines make in one week, the first unless `?week=2027-W08` names another.

    `?line=` names the line whose sheet is wanted, or all of them.
    """
    orders = line_orders()
    found = week_shown(orders, week=request.GET.get("week", ""), line=request.GET.get("line", ""))
    return page(
        request,
        "planner/week.html",
        about=page_by_route("pages:week"),
        orders=orders,
        caution=CAUTION,
        found=found,
        totals=list(line_days(found.runs)),
        blocked=[] if orders.make_list_id is None else blocked_runs(orders.make_list_id, most=MOST_BLOCKED),
    )


@dataclass(frozen=True)
class WeekShown:
    """One week: the weeks that have runs, how many each line has in the chosen one, the line shown and its runs."""

    weeks: list[str]
    week: str
    of_week: list[tuple[str, int]]
    line: str
    runs: tuple[LineRun, ...]

    @property
    def lines(self) -> list[tuple[str, list[LineRun]]]:
        """The runs by line."""
        return [(line, list(group)) for line, group in groupby(self.runs, key=attrgetter("line_code"))]


def week_shown(orders: LineOrders, *, week: str, line: str) -> WeekShown:
    """Return the week asked for, else the first one, of the line asked for. A run that is late belongs to this week."""
    now = timezone.now()
    week_of = {run.key: iso_week(max(run.start, now)) for run in orders.runs}
    weeks = sorted(set(week_of.values()))
    chosen = week if week in weeks else next(iter(weeks), "")
    runs = [run for run in orders.runs if week_of[run.key] == chosen]
    of_week = Counter(run.line_code for run in runs)
    shown = _line(line, of_week)
    return WeekShown(
        weeks, chosen, sorted(of_week.items()), shown, tuple(r for r in runs if shown in {ALL_LINES, r.line_code})
    )


@dataclass(frozen=True)
class LineDay:
    """What a line begins on a day."""

    line_code: str
    day: date
    runs: int
    spools: int
    good_kg: float
    changeover_min: float
    purge_kg: float


def line_days(runs: tuple[LineRun, ...]) -> Iterator[LineDay]:
    """Sum runs by line and by the local day on which they begin."""

    def key(run: LineRun) -> tuple[str, date]:
        return run.line_code, timezone.localdate(run.start)

    for (line, day), group in groupby(sorted(runs, key=key), key=key):
        some = list(group)
        yield LineDay(
            line_code=line,
            day=day,
            runs=len(some),
            spools=sum(run.spools for run in some),
            good_kg=sum(run.good_kg for run in some),
            changeover_min=sum(run.changeover_min for run in some),
            purge_kg=sum(run.purge_kg for run in some),
        )


def _line(asked: str, of_week: Counter[str]) -> str:
    """Return the line whose sheet is shown, `ALL_LINES` for every one."""
    if asked in {ALL_LINES, *of_week}:
        return asked
    return ALL_LINES if of_week.total() <= MOST_RUNS_UNASKED else min(of_week)


def iso_week(instant: datetime) -> str:
    """Return the ISO week of an instant in the plant's zone, as 2027-W08."""
    return f"{timezone.localtime(instant):%G-W%V}"
