"""What finished runs teach of each line, beside what is entered; the planner accepts it."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import may_plan, page, person_of, planning_action, working_page
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.finished_runs import accepted_figures
from stockplan.planner.services.floor_learning import LEAST_CHANGEOVERS, accept_learned, learned_figures

MOST_ACCEPTED = 15


@require_safe
@working_page("planner.view_makelist")
def learned(request: HttpRequest) -> HttpResponse:
    """Show every line with finished runs that were not accepted yet, and what was accepted last."""
    as_of = timezone.now()
    return page(
        request,
        "planner/learned.html",
        about=page_by_route("pages:learned"),
        as_of=as_of.isoformat(),
        lines=learned_figures(as_of=as_of),
        least_changeovers=LEAST_CHANGEOVERS,
        accepted=accepted_figures()[:MOST_ACCEPTED],
        may_plan=may_plan(request.user),
    )


@takes_form
@planning_action
def accept(request: HttpRequest, code: str) -> HttpResponse:
    """Enter the figures of one line as they were shown."""
    as_of = _instant(request.POST.get("as_of", ""))
    if as_of is None:
        messages.error(request, _("Nothing was entered: the page did not say what it showed. Look again."))
        return redirect("pages:learned")
    try:
        accept_learned(line_code=code, as_of=as_of, now=timezone.now(), accepted_by=person_of(request))
    except PlanningError as error:
        messages.error(request, _("Nothing was entered: %(why)s") % {"why": in_words(error)})
    else:
        messages.success(request, _("Entered for line %(line)s. The next list uses it.") % {"line": code})
    return redirect("pages:learned")


def _instant(typed: str) -> datetime | None:
    try:
        instant = parse_datetime(typed)
    except ValueError:
        return None
    return None if instant is None or instant.tzinfo is None else instant
