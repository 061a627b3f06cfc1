"""The runs of each line in their order, and another order: typed, tried with its price, then set."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import groupby
from operator import attrgetter

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.rules.clock import Clock
from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.run_order_form import TypedOrder, typed_order
from stockplan.planner.pages.site import may_plan, page, person_of, planning_action, working_page
from stockplan.planner.pages.time_bars import time_bars
from stockplan.planner.selectors.line_orders import LineOrders, LineRun, line_orders
from stockplan.planner.selectors.list_pages import BarRun
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.run_order import OrderMovedError, set_order, try_order
from stockplan.planner.services.run_order_price import OrderedRun, RunOrder

# Of every line so many, and fewer where the lines are many.
RUNS_BEGUN_PER_LINE, RUNS_BEGUN = 6, 80
RUNS_PER_PAGE = 30
RUNS_DRAWN = 100


@require_safe
@working_page("planner.view_makelist")
def lines(request: HttpRequest) -> HttpResponse:
    """Show the next runs of each line in its order, or all of the line that `?line=` names."""
    orders = line_orders()
    line, number = request.GET.get("line", ""), request.GET.get("page", "")
    return _show(request, orders, TypedOrder({}, (), {}), line=line, number=number)


@takes_form
@planning_action
def order(request: HttpRequest) -> HttpResponse:
    """Try the order that was typed and show its price; with `set`, set it and compute the next list."""
    orders = line_orders()
    line, number = request.POST.get("shown-line", ""), request.POST.get("shown-page", "")
    typed, seen = typed_order(orders, request.POST), request.POST.get("seen", "")
    if typed.faults:
        return _show(request, orders, typed, status=422, line=line, number=number)
    try:
        if "set" in request.POST:
            done = set_order(typed.moves, seen=seen, clock=Clock.at(timezone.now()), by=person_of(request))
            return _go_on(request, done, line=line)
        tried = try_order(typed.moves, now=timezone.now(), seen=seen)
    except OrderMovedError as error:
        return _show(
            request, line_orders(), TypedOrder({}, (), {}), fault=in_words(error), status=409, line=line, number=number
        )
    except (PlanningError, BooksError) as error:
        beside = typed.with_fault(error) if isinstance(error, PlanningError) else None
        fault = "" if beside else in_words(error)
        return _show(request, orders, beside or typed, fault=fault, status=422, line=line, number=number)
    if not tried.runs:
        messages.info(request, _("This is the order that stands: nothing to change."))
        return redirect(_address(line))
    return page(
        request,
        "planner/run_order.html",
        title=_("Another order of runs"),
        tried=tried,
        moves=typed.moves,
        names={run.key: run for run in orders.runs},
        touched=_by_line([run for run in tried.runs if not run.is_shifted]),
        shifted=_by_line([run for run in tried.runs if run.is_shifted]),
        shown_line=line,
        shown_page=number,
        back=_address(line),
    )


def _go_on(request: HttpRequest, done: RunOrder, *, line: str) -> HttpResponse:
    """Say what was set, and compute the list that stands behind it."""
    said = _("The order is set.")
    if replanned := sum(run.is_released for run in done.runs):
        said += " " + ngettext(
            "%(n)d released run has a new plan.", "%(n)d released runs have a new plan.", replanned
        ) % {"n": replanned}
    if promises := len(done.promises):
        said += " " + ngettext("%(n)d promise moved with it.", "%(n)d promises moved with it.", promises) % {
            "n": promises
        }
    if done.runs:
        now = timezone.now()
        try:
            compute_make_list(as_of=now, now=now, created_by=person_of(request))
            said += " " + _("A new list was computed with it.")
        except (PlanningError, BooksError) as error:
            messages.error(request, _("No list was computed: %(why)s") % {"why": in_words(error)})
    messages.success(request, said)
    return redirect(_address(line))


def _address(line: str) -> str:
    return reverse("pages:lines") + (f"?{urlencode({'line': line})}" if line else "")


def _by_line(runs: Iterable[OrderedRun]) -> list[tuple[str, list[OrderedRun]]]:
    return [(line, list(group)) for line, group in groupby(runs, key=attrgetter("line"))]


def _show(
    request: HttpRequest,
    orders: LineOrders,
    typed: TypedOrder,
    *,
    line: str,
    number: str,
    fault: str = "",
    status: int = 200,
) -> HttpResponse:
    counts = Counter(run.line_code for run in orders.runs)
    wanted = [run for run in orders.runs if run.line_code == line] if line in counts else _begun(orders)
    found = Paginator(wanted, RUNS_PER_PAGE if line in counts else len(wanted) or 1).get_page(number)
    return page(
        request,
        "planner/lines.html",
        status=status,
        title=_("Make list by line"),
        may_plan=may_plan(request.user),
        asked=line if line in counts else "",
        found=found,
        lines=[
            (code, [typed.row(run) for run in group])
            for code, group in groupby(found.object_list, key=attrgetter("line_code"))
        ],
        counts=sorted(counts.items()),
        seen=orders.seen,
        fault=fault,
        bars=time_bars([_bar(run) for run in wanted[:RUNS_DRAWN]], by_place=True),
    )


def _begun(orders: LineOrders) -> list[LineRun]:
    """Return the next runs of every line, and what is under way on it."""
    lines = len({run.line_code for run in orders.runs})
    most = min(RUNS_BEGUN_PER_LINE, max(RUNS_BEGUN // max(lines, 1), 1))
    return [run for run in orders.runs if (run.place or 0) <= most]


def _bar(run: LineRun) -> BarRun:
    return BarRun(run.line_code, run.place, run.filament_code, run.colour_hex, run.start, run.end, run.changeover_min)
