"""Announced demand: promotions and the like, which the forecast takes into account."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.rules.clock import Clock
from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.announced_form import AnnouncementForm
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import may_plan, page, person_of, planning_action, working_page
from stockplan.planner.selectors.announcements import announcements_at, scope_codes
from stockplan.planner.services.announcements import announce_demand, withdraw_announcement


@require_safe
@working_page("planner.view_skuforecast")
def announced(request: HttpRequest) -> HttpResponse:
    """Show what is announced, coming and past, with the form."""
    return _show(request, _form())


@takes_form
@planning_action
def announce(request: HttpRequest) -> HttpResponse:
    """Announce demand."""
    form = _form(request)
    if not form.is_valid():
        return _show(request, form, status=422)
    asked = ("name", "first_day", "last_day", "factor")
    given: dict[str, Any] = {name: form.cleaned_data[name] for name in asked} | form.scoped
    try:
        announce_demand(**given, clock=Clock.at(timezone.now()), by=person_of(request))
    except PlanningError as error:
        form.add_error(None, in_words(error))
        return _show(request, form, status=422)
    messages.success(request, _("Announced. The next forecast takes it into account."))
    return redirect("pages:announced")


@takes_form
@planning_action
def withdraw(request: HttpRequest, announcement_id: int) -> HttpResponse:
    """Take an announcement back."""
    try:
        withdraw_announcement(announcement_id=announcement_id, clock=Clock.at(timezone.now()))
    except PlanningError as error:
        messages.error(request, in_words(error))
    else:
        messages.success(request, _("Withdrawn. The next forecast does without it."))
    return redirect("pages:announced")


def _form(request: HttpRequest | None = None) -> AnnouncementForm:
    materials, filaments = scope_codes()
    typed = None if request is None else request.POST
    return AnnouncementForm(typed, material_codes=materials, filament_codes=filaments)


def _show(request: HttpRequest, form: AnnouncementForm, *, status: int = 200) -> HttpResponse:
    today = timezone.localdate()
    every = announcements_at(timezone.now())
    return page(
        request,
        "planner/announced.html",
        status=status,
        title=_("Announced demand"),
        form=form,
        coming=[one for one in every if one.last_day >= today],
        over=[one for one in reversed(every) if one.last_day < today],
        may_plan=may_plan(request.user),
    )
