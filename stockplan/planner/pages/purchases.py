"""What to buy and by when, as it was last computed. That takes some seconds: a button asks for it, and it is kept."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import may_plan, page, planning_action, working_page
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.purchases import Advice, by_day, newest_advice
from stockplan.planner.services.purchase_advice import advise_purchases


@require_safe
@working_page("planner.view_makelist")
def purchases(request: HttpRequest) -> HttpResponse:
    """Show the newest advice and the button that asks for a new one."""
    return _show(request, newest_advice())


@takes_form
@planning_action
def advise(request: HttpRequest) -> HttpResponse:
    """Compute what to buy from what the books know now, and show it by the day until which to buy it."""
    now = timezone.now()
    try:
        advised = advise_purchases(as_of=now, now=now)
    except (PlanningError, BooksError) as error:
        messages.error(request, _("Nothing was computed: %(why)s") % {"why": in_words(error)})
        return _show(request, newest_advice(), status=422)
    return _show(request, Advice(now, by_day(advised)))


def _show(request: HttpRequest, advice: Advice | None, *, status: int = 200) -> HttpResponse:
    return page(
        request,
        "planner/purchases.html",
        status=status,
        about=page_by_route("pages:purchases"),
        advice=advice,
        may_plan=may_plan(request.user),
    )
