"""Run cards: the runs that wait for the floor, and the one page that goes to the line with each."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.models import Run
from inventory.rules.clock import Clock
from inventory.selectors.labels import spool_labels
from inventory.services.runs import reschedule_run
from inventory.wording import in_words
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import may_plan, page, planning_action, working_page
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.run_card import RunCard, RunNotKnownError, run_card
from stockplan.planner.selectors.waiting_runs import waiting_runs


@require_safe
@working_page("inventory.view_run")
def run_cards(request: HttpRequest) -> HttpResponse:
    """List the runs that are released or started, by line and start."""
    return page(request, "planner/run_cards.html", about=page_by_route("pages:run-cards"), lines=waiting_runs())


@require_safe
@working_page("inventory.view_run")
def card(request: HttpRequest, code: str) -> HttpResponse:
    """Show the printable card of one run."""
    return _show(request, _card_or_404(code), form=None)


@takes_form
@planning_action
def move(request: HttpRequest, code: str) -> HttpResponse:
    """Move a released run to another start; its length stays, and the promises on its spools move with it."""
    shown = _card_or_404(code)
    form = MoveForm(request.POST)
    if not form.is_valid():
        return _show(request, shown, form=form, status=422)
    start = form.cleaned_data["start"]
    end = start + (shown.planned_end - shown.planned_start)
    try:
        moved = reschedule_run(
            run_code=shown.run_code, planned_start=start, planned_end=end, clock=Clock.at(timezone.now())
        )
    except BooksError as error:
        messages.error(request, _("Nothing was written: %(why)s") % {"why": in_words(error)})
        return _show(request, shown, form=form, status=422)
    said = ngettext("%(n)d promise moved with it.", "%(n)d promises moved with it.", len(moved.promise_changes))
    messages.success(request, _("The run is moved.") + " " + said % {"n": len(moved.promise_changes)})
    return redirect("pages:run-card", shown.run_code)


class MoveForm(forms.Form):
    """The new start of a run, in the plant's zone."""

    start = forms.DateTimeField(
        label=gettext_lazy("New start"),
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )


def _card_or_404(code: str) -> RunCard:
    try:
        return run_card(code)
    except RunNotKnownError as error:
        raise Http404(str(error)) from error


def _show(request: HttpRequest, shown: RunCard, *, form: MoveForm | None, status: int = 200) -> HttpResponse:
    may_move = shown.state == Run.State.RELEASED and may_plan(request.user)
    return page(
        request,
        "planner/run_card.html",
        status=status,
        title=_("Run %(code)s") % {"code": shown.run_code},
        card=shown,
        labels=spool_labels(shown.run_code),
        form=(form or MoveForm(initial={"start": shown.planned_start})) if may_move else None,
    )
