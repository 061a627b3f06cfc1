"""One filament under the planner's hand: what the list says of it, and the instructions that fix it."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.rules.clock import Clock
from inventory.wording import in_words
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.instruction_form import InstructionForm
from stockplan.planner.pages.site import may_plan, page, person_of, planning_action, working_page
from stockplan.planner.selectors.filaments import (
    FilamentDetail,
    FilamentNotFoundError,
    filament_detail,
    live_instructions,
    said_of_filament,
)
from stockplan.planner.services.instructions import (
    forbid_filament,
    pin_filament,
    resize_sku,
    withdraw_instruction,
)

PIN, FORBID, RESIZE = "pin", "forbid", "resize"
SHOWS = {
    PIN: ("line", "last_day", "note"),
    FORBID: ("last_day", "note"),
    RESIZE: ("sku", "spools", "last_day", "note"),
}
SAID = {
    PIN: gettext_lazy("%(code)s is pinned. Compute a new list to see what it costs."),
    FORBID: gettext_lazy("%(code)s is forbidden. Compute a new list to see what it costs."),
    RESIZE: gettext_lazy("The spools of %(code)s are fixed. Compute a new list to see what it costs."),
}


@require_safe
@working_page("planner.view_makelist")
def filament(request: HttpRequest, code: str) -> HttpResponse:
    """Show one filament with its forms."""
    return _show(request, _filament_or_404(code))


@takes_form
@planning_action
def instruct(request: HttpRequest, code: str, kind: str) -> HttpResponse:
    """Give one instruction."""
    shown = _filament_or_404(code)
    form = InstructionForm(request.POST, filament=shown, shows=SHOWS[kind], prefix=kind)
    if not form.is_valid():
        return _show(request, shown, bound={kind: form}, status=422)
    try:
        _give(kind, code, form.cleaned_data, clock=Clock.at(timezone.now()), by=person_of(request))
    except PlanningError as error:
        at_fault = error.pointer.strip("/")
        form.add_error(at_fault if at_fault in form.fields else None, in_words(error))
        return _show(request, shown, bound={kind: form}, status=422)
    messages.success(request, SAID[kind] % {"code": code})
    return redirect("pages:make-list")


@takes_form
@planning_action
def withdraw(request: HttpRequest, instruction_id: int) -> HttpResponse:
    """Withdraw one instruction."""
    try:
        withdraw_instruction(instruction_id=instruction_id, clock=Clock.at(timezone.now()))
    except PlanningError as error:
        messages.error(request, in_words(error))
    else:
        messages.success(request, _("The instruction is withdrawn. Compute a new list without it."))
    return redirect("pages:make-list")


def _give(kind: str, code: str, given: dict[str, Any], *, clock: Clock, by: User) -> None:
    until: dict[str, Any] = {"last_day": given["last_day"], "note": given["note"], "clock": clock, "by": by}
    if kind == PIN:
        pin_filament(filament_code=code, line_code=given["line"] or None, **until)
    elif kind == FORBID:
        forbid_filament(filament_code=code, **until)
    else:
        resize_sku(sku_code=given["sku"], spools=given["spools"], **until)


def _filament_or_404(code: str) -> FilamentDetail:
    try:
        return filament_detail(code)
    except FilamentNotFoundError as error:
        raise Http404(str(error)) from error


def _show(
    request: HttpRequest, shown: FilamentDetail, *, bound: dict[str, InstructionForm] | None = None, status: int = 200
) -> HttpResponse:
    forms = {kind: InstructionForm(filament=shown, shows=fields, prefix=kind) for kind, fields in SHOWS.items()}
    return page(
        request,
        "planner/filament.html",
        status=status,
        title=f"{shown.material_name} {shown.colour_name} {shown.diameter_mm:.2f} mm",
        filament=shown,
        forms=forms | (bound or {}),
        instructions=live_instructions(today=timezone.localdate(), filament_code=shown.code),
        may_plan=may_plan(request.user),
        **_said_by_the_list(shown),
    )


def _said_by_the_list(shown: FilamentDetail) -> dict[str, Any]:
    said = said_of_filament(shown.code)
    spools = Counter[str]()
    for run in said.runs:
        spools.update(run.spools)
    return {
        "said": said,
        "sizes": [(size, spools[size.sku_code] if said.runs else None) for size in shown.sizes],
    }
