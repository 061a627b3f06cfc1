"""The make list: read it, compute it anew, release it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.rules.clock import Clock
from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import ListedRun, NotListed
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import may_plan, page, person_of, planning_action, working_page
from stockplan.planner.pages.time_bars import time_bars
from stockplan.planner.pages.typed import whole_number
from stockplan.planner.pages.what_if_form import empty_forms
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.filaments import live_instructions
from stockplan.planner.selectors.list_changes import changes_since
from stockplan.planner.selectors.list_pages import (
    MakeListHead,
    blocked_runs,
    first_runs,
    newest_list,
    not_listed_by_cause,
)
from stockplan.planner.selectors.make_list_details import ListedRunDetail
from stockplan.planner.selectors.make_lists import (
    MakeListNotFoundError,
    listed_runs,
    not_listed,
    not_listed_details,
    run_details,
    runs_up_to,
)
from stockplan.planner.selectors.waiting_runs import waiting_run_count
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.release import release_line_up_to, release_list

SEES = "planner.view_makelist"
RUNS_PER_PAGE = 30
ROWS_PER_PAGE = 100
# What follows the ranked runs on their page is begun there; the rest of it has pages of its own.
ROWS_BEGUN = 15
RUNS_DRAWN = 100


@require_safe
@working_page(SEES)
def latest(request: HttpRequest) -> HttpResponse:
    """Show the newest make list, the page of its ranks that `?page=` names or on which `?rank=` stands."""
    about = page_by_route("pages:make-list")
    instructions = live_instructions(today=timezone.localdate())
    frame: dict[str, Any] = {"about": about, "may_plan": may_plan(request.user), "instructions": instructions}
    try:
        shown = newest_list()
    except MakeListNotFoundError:
        return page(request, "planner/make_list.html", make_list=None, **frame)
    return page(
        request,
        "planner/make_list.html",
        make_list=shown,
        on_the_floor=waiting_run_count(),
        runs=_page_of_runs(listed_runs(shown.id), number=_page_number(request)),
        up_to=runs_up_to(shown.id),
        bars=time_bars(first_runs(shown.id, most=RUNS_DRAWN)),
        blocked=blocked_runs(shown.id, most=ROWS_BEGUN),
        not_listed=not_listed_by_cause(shown.id, first=ROWS_BEGUN),
        **_changes(shown, most=ROWS_BEGUN),
        forms=empty_forms() if frame["may_plan"] else [],
        **frame,
    )


@require_safe
@working_page(SEES)
def left_out(request: HttpRequest) -> HttpResponse:
    """Show which filaments the newest list leaves out for the cause that `?cause=` names, and why each."""
    try:
        rows = not_listed(newest_list().id)
    except MakeListNotFoundError:
        return redirect("pages:make-list")
    cause = request.GET.get("cause", "")
    wanted = rows.filter(cause=cause) if cause in NotListed.Cause else rows
    found: Page[Any] = Paginator(wanted, ROWS_PER_PAGE).get_page(request.GET.get("page"))
    found.object_list = not_listed_details(found.object_list)
    return page(request, "planner/left_out.html", title=_("Not on the list, and why"), found=found)


@require_safe
@working_page(SEES)
def changed(request: HttpRequest) -> HttpResponse:
    """Show every run that differs from the list before."""
    try:
        since, found = changes_since(newest_list())
    except MakeListNotFoundError:
        return redirect("pages:make-list")
    rows = Paginator(found, ROWS_PER_PAGE).get_page(request.GET.get("page"))
    return page(request, "planner/changed.html", title=_("What changed since the list before"), since=since, found=rows)


@require_safe
@working_page(SEES)
def to_buy(request: HttpRequest) -> HttpResponse:
    """Show every run of the newest list that waits for materials, and what it lacks."""
    try:
        runs = listed_runs(newest_list().id).filter(is_blocked=True)
    except MakeListNotFoundError:
        return redirect("pages:make-list")
    found = _page_of_runs(runs, number=request.GET.get("page"))
    return page(request, "planner/to_buy.html", title=_("What to buy for blocked runs"), found=found)


@takes_form
@planning_action
def compute(request: HttpRequest) -> HttpResponse:
    """Compute a new list from what the books know now."""
    now = timezone.now()
    try:
        made = compute_make_list(as_of=now, now=now, created_by=person_of(request))
    except (PlanningError, BooksError) as error:
        messages.error(request, _("No list was computed: %(why)s") % {"why": in_words(error)})
    else:
        messages.success(request, _("A new list was computed, for %(made)s.") % {"made": made})
    return redirect("pages:make-list")


@takes_form
@planning_action
def release(request: HttpRequest, make_list_id: UUID) -> HttpResponse:
    """Release every run of a list that can be run."""
    try:
        release_list(make_list_id=make_list_id, clock=Clock.at(timezone.now()), released_by=person_of(request))
    except (PlanningError, BooksError) as error:
        messages.error(request, _("Nothing was released: %(why)s") % {"why": in_words(error)})
    else:
        messages.success(request, _("The list is released. The run cards are ready to print."))
    return redirect("pages:make-list")


@takes_form
@planning_action
def release_run(request: HttpRequest, listed_run_id: int) -> HttpResponse:
    """Release one run of a list, and those before it on its line."""
    try:
        runs = release_line_up_to(listed_run_id=listed_run_id, clock=Clock.at(timezone.now()), by=person_of(request))
    except (PlanningError, BooksError) as error:
        messages.error(request, _("The run was not released: %(why)s") % {"why": in_words(error)})
    else:
        said = ngettext(
            "Run %(run)s is released. Its card is ready to print.",
            "%(n)d runs of line %(line)s are released, up to %(run)s. Their cards are ready to print.",
            len(runs),
        )
        last = runs[-1]
        messages.success(request, said % {"n": len(runs), "line": last.line.code, "run": last.code})
    return redirect("pages:make-list")


def _changes(shown: MakeListHead, *, most: int) -> dict[str, Any]:
    since, changes = changes_since(shown)
    return {"list_before": since, "changes": changes[:most], "changes_in_all": len(changes)}


def _page_of_runs(runs: QuerySet[ListedRun], *, number: str | int | None) -> Page[ListedRunDetail]:
    """Return a page of runs as they are shown."""
    found: Page[Any] = Paginator(runs, RUNS_PER_PAGE).get_page(number)
    found.object_list = run_details(found.object_list)
    return found


def _page_number(request: HttpRequest) -> str | int | None:
    rank = whole_number(request.GET.get("rank", ""))
    return request.GET.get("page") if rank is None else (rank - 1) // RUNS_PER_PAGE + 1
