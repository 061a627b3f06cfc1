"""The make list: read it, compute it anew, release it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.errors import BooksError
from inventory.rules.clock import Clock
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import NotListed
from stockplan.planner.pages.site import may_plan, page, page_by_route, person_of, planning_action, working_page
from stockplan.planner.pages.week import blocked_runs, runs_by_line
from stockplan.planner.pages.what_if_form import empty_forms
from stockplan.planner.selectors.filaments import live_instructions
from stockplan.planner.selectors.list_changes import changes_since
from stockplan.planner.selectors.make_list_details import MakeListDetail
from stockplan.planner.selectors.make_lists import (
    MakeListNotFoundError,
    NotListedDetail,
    latest_make_list,
)
from stockplan.planner.selectors.what_if_codes import what_if_codes
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.release import release_list, release_listed_run

RUNS_PER_PAGE = 50


@require_safe
@working_page("planner.view_makelist")
def latest(request: HttpRequest) -> HttpResponse:
    """Show the newest make list, the page of its ranks that `?page=` names or on which `?rank=` stands."""
    about = page_by_route("pages:make-list")
    instructions = live_instructions(today=timezone.localdate())
    frame: dict[str, Any] = {"about": about, "may_plan": may_plan(request.user), "instructions": instructions}
    try:
        shown = latest_make_list()
    except MakeListNotFoundError:
        return page(request, "planner/make_list.html", make_list=None, **frame)
    return page(
        request,
        "planner/make_list.html",
        make_list=shown,
        runs=Paginator(shown.runs, RUNS_PER_PAGE).get_page(_page_number(request)),
        placed=[run for run in shown.runs if not run.is_blocked],
        blocked=blocked_runs(shown),
        not_listed=_by_cause(shown.not_listed),
        **_changes(shown),
        **(_what_ifs() if frame["may_plan"] else {}),
        **frame,
    )


@require_safe
@working_page("planner.view_makelist")
def lines(request: HttpRequest) -> HttpResponse:
    """Show the runs of the newest list in the order of each line."""
    try:
        runs = latest_make_list().runs
    except MakeListNotFoundError:
        runs = ()
    return page(request, "planner/lines.html", title="Make list by line", lines=runs_by_line(runs))


@require_POST
@planning_action
def compute(request: HttpRequest) -> HttpResponse:
    """Compute a new list from what the books know now."""
    now = timezone.now()
    try:
        made = compute_make_list(as_of=now, now=now, created_by=person_of(request))
    except (PlanningError, BooksError) as error:
        messages.error(request, f"No list was computed: {error}")
    else:
        messages.success(request, f"A new list was computed, for {made}.")
    return redirect("pages:make-list")


@require_POST
@planning_action
def release(request: HttpRequest, make_list_id: UUID) -> HttpResponse:
    """Release every run of a list that can be run."""
    try:
        release_list(make_list_id=make_list_id, clock=Clock.at(timezone.now()), released_by=person_of(request))
    except (PlanningError, BooksError) as error:
        messages.error(request, f"Nothing was released: {error}")
    else:
        messages.success(request, "The list is released. The run cards are ready to print.")
    return redirect("pages:make-list")


@require_POST
@planning_action
def release_run(request: HttpRequest, listed_run_id: int) -> HttpResponse:
    """Release one run of a list."""
    try:
        run = release_listed_run(listed_run_id=listed_run_id, clock=Clock.at(timezone.now()), by=person_of(request))
    except (PlanningError, BooksError) as error:
        messages.error(request, f"The run was not released: {error}")
    else:
        messages.success(request, f"Run {run.code} is released. Its card is ready to print.")
    return redirect("pages:make-list")


def _changes(shown: MakeListDetail) -> dict[str, Any]:
    since, changes = changes_since(shown)
    return {"list_before": since, "changes": changes}


def _what_ifs() -> dict[str, Any]:
    return {"forms": empty_forms(), "codes": what_if_codes()}


def _page_number(request: HttpRequest) -> str | int | None:
    rank = request.GET.get("rank", "")
    return (int(rank) - 1) // RUNS_PER_PAGE + 1 if rank.isdecimal() else request.GET.get("page")


def _by_cause(rows: Iterable[NotListedDetail]) -> list[tuple[str, list[NotListedDetail]]]:
    """Group in the order of the causes: what could be made but is not comes before what there is enough of."""
    causes = [cause for cause in NotListed.Cause if cause != NotListed.Cause.ENOUGH] + [NotListed.Cause.ENOUGH]
    groups = [(str(cause.label), [row for row in rows if row.cause == cause]) for cause in causes]
    return [(label, group) for label, group in groups if group]
