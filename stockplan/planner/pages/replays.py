"""What the make list and plain rules would have come to on past days, and what more or less stock would have bought."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.selectors.plant import parameters
from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.pictures import exchange_picture
from stockplan.planner.pages.replay_form import ReplayForm, usual_days
from stockplan.planner.pages.site import may_plan, page, person_of, planning_action, working_page
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.stored_replays import comparable_curves, newest_asked, past_replays
from stockplan.planner.services.asked_replays import ask_replay


@require_safe
@working_page("planner.view_makelist")
def replays(request: HttpRequest) -> HttpResponse:
    """Show the newest replays as tables, their exchange curves as a chart, and how far the one under way is."""
    return _show(request, ReplayForm(initial=usual_days(timezone.localdate())))


@takes_form
@planning_action
def ask(request: HttpRequest) -> HttpResponse:
    """Begin a replay, which goes on after this answer."""
    form = ReplayForm(request.POST)
    if not form.is_valid():
        return _show(request, form, status=422)
    try:
        ask_replay(form.question, now=timezone.now(), by=person_of(request))
    except PlanningError as error:
        form.add_error(None, in_words(error))
        return _show(request, form, status=422)
    messages.success(request, _("The replay has begun. It goes on when you leave this page."))
    return redirect("pages:replays")


@require_safe
@working_page("planner.view_makelist")
def progress(_request: HttpRequest) -> HttpResponse:
    """Say how far the newest replay is, for the bar of the page."""
    asked = newest_asked(timezone.now())
    if asked is None or not asked.is_under_way:
        return JsonResponse({"is_over": True})
    return JsonResponse({"is_over": False, "done": asked.days_done, "in_all": asked.days_in_all})


def _show(request: HttpRequest, form: ReplayForm, *, status: int = 200) -> HttpResponse:
    found = past_replays()
    curves, currency = comparable_curves(found), parameters().currency
    return page(
        request,
        "planner/replays.html",
        status=status,
        about=page_by_route("pages:replays"),
        replays=found,
        exchange=exchange_picture(curves, currency=currency) if curves else None,
        currency=currency,
        asked=newest_asked(timezone.now()),
        form=form,
        may_plan=may_plan(request.user),
    )
