"""Run cards: the runs that wait for the floor, and the one page that goes to the line with each."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.selectors.labels import spool_labels
from stockplan.planner.pages.site import page, page_by_route, working_page
from stockplan.planner.selectors.run_card import RunNotKnownError, run_card
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
    try:
        shown = run_card(code)
    except RunNotKnownError as error:
        raise Http404(str(error)) from error
    return page(
        request,
        "planner/run_card.html",
        title=_("Run %(code)s") % {"code": code},
        card=shown,
        labels=spool_labels(code),
    )
