"""What if: a change tried on the newest list, its price in misses and the list that it would give."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from inventory.errors import BooksError
from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import page, planning_action
from stockplan.planner.pages.what_if_form import TITLES, WhatIfForm, empty_forms
from stockplan.planner.services.what_if import what_if

# Of the runs that differ, so many are shown at once: those that begin first. The others will be planned again.
SOONEST = 10


@takes_form
@planning_action
def try_change(request: HttpRequest, change: str) -> HttpResponse:
    """Compute the newest list with one change and show it beside the one that is stored. Nothing is stored."""
    if change not in TITLES:
        raise Http404
    form, found, fault = WhatIfForm(request.POST, change=change), None, ""
    if form.is_valid():
        try:
            found = what_if([form.made()], now=timezone.now())
        except (PlanningError, BooksError) as error:
            fault = in_words(error)
    differences = found.differences if found else ()
    return page(
        request,
        "planner/what_if.html",
        status=422 if found is None else 200,
        title=_("What if"),
        tried=form,
        found=found,
        soonest=differences[:SOONEST],
        later=differences[SOONEST:],
        fault=fault,
        forms=[form if other.change == change else other for other in empty_forms()],
    )
