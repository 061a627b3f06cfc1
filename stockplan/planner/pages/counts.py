"""Rounds of counting on the shelf: what to count next, the blind sheet, and how right the books were."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from inventory.errors import BooksError, NotFoundError
from inventory.models import CountLine
from inventory.rules.clock import Clock
from inventory.selectors.count_sheets import CountSheetRow, count_sheet_heads, count_sheet_row
from inventory.selectors.counting import CountAccuracy, count_accuracy, next_counts
from inventory.services.counting import MOST_SPOOLS, close_count_sheet, open_count_sheet, record_count
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import action, may, page, person_of, working_page
from stockplan.planner.pages.typed import TypedError, number_given, whole_number
from stockplan.planner.pages.working_pages import page_by_route

SEES = "inventory.view_ovenload"
COUNTED = "counted "
NEXT_SHOWN, SHEETS_SHOWN = 20, 20
# A quarter, as the order lines that the risk of a SKU is judged by.
ACCURACY_OF = timedelta(days=91)


@require_safe
@working_page(SEES)
def counts(request: HttpRequest) -> HttpResponse:
    """Show the sheets, what is worth counting next, and how right the books were."""
    return _show(request)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def open_sheet(request: HttpRequest) -> HttpResponse:
    """Open a sheet for the SKUs that are ticked, or for the shelf places that are typed."""
    try:
        percent = number_given(request.POST, "tolerance") or Decimal(0)
        sheet = open_count_sheet(
            sku_codes=request.POST.getlist("sku"),
            shelf_places=request.POST.get("places", "").split(),
            tolerance_share=percent / 100,
            clock=Clock.at(timezone.now()),
            opened_by=person_of(request),
        )
    except (BooksError, TypedError) as error:
        messages.error(request, _("No sheet was opened: %(why)s") % {"why": in_words(error)})
        return _show(request, status=422)
    return redirect("pages:count-sheet", sheet.code)


@require_safe
@working_page(SEES)
def sheet(request: HttpRequest, code: str) -> HttpResponse:
    """Show one sheet; what the books say of a line only once it is settled."""
    return _show_sheet(request, sheet_or_404(code), faults={})


@takes_form
@action(Scope.FLOOR, sees=SEES)
def write(request: HttpRequest, code: str) -> HttpResponse:
    """Write the counts that were typed, each for itself: one that is refused leaves the others written."""
    sheet_or_404(code)
    states: list[str] = []
    faults: dict[str, str] = {}
    for sku, typed in _typed(request.POST).items():
        try:
            states.append(_count(request, code, sku, typed))
        except (BooksError, TypedError) as error:
            faults[sku] = in_words(error)
    _say(request, states)
    if faults:
        return _show_sheet(request, sheet_or_404(code), faults=faults, status=422)
    return redirect("pages:count-sheet", code)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def close(request: HttpRequest, code: str) -> HttpResponse:
    """Close a sheet; what is not settled may be counted on another one."""
    try:
        dropped = close_count_sheet(sheet_code=code, clock=Clock.at(timezone.now()))
    except BooksError as error:
        messages.error(request, in_words(error))
    else:
        said = ngettext("Closed. %(n)d line was not settled.", "Closed. %(n)d lines were not settled.", dropped)
        messages.success(request, said % {"n": dropped})
    return redirect("pages:counts")


def sheet_or_404(code: str) -> CountSheetRow:
    """Return a count sheet, or answer that there is none."""
    try:
        return count_sheet_row(code)
    except NotFoundError as error:
        raise Http404(str(error)) from error


def accuracy_of_the_quarter() -> CountAccuracy:
    """Return how right the books were when they were counted in the last 91 days."""
    now = timezone.now()
    return count_accuracy(first=now - ACCURACY_OF, last=now)


def _typed(posted: Mapping[str, str]) -> dict[str, str]:
    """Return what was typed by SKU; an empty field is no count."""
    typed = {name.removeprefix(COUNTED): posted[name].strip() for name in posted if name.startswith(COUNTED)}
    return {sku: text for sku, text in typed.items() if text}


def _count(request: HttpRequest, code: str, sku: str, typed: str) -> str:
    counted = whole_number(typed)
    if counted is None or counted > MOST_SPOOLS:
        raise TypedError(_("A whole number of spools, got %(text)r.") % {"text": typed})
    clock = Clock.at(timezone.now())
    return record_count(
        sheet_code=code, sku_code=sku, counted=counted, clock=clock, counted_by=person_of(request)
    ).state


def _say(request: HttpRequest, states: list[str]) -> None:
    """Say what became of the counts, without what the books say."""
    again = states.count(CountLine.State.AGAIN)
    if settled := len(states) - again:
        said = ngettext("%(n)d count is settled.", "%(n)d counts are settled.", settled)
        messages.success(request, said % {"n": settled})
    if again:
        said = ngettext(
            "%(n)d count differs from the books: count it once more.",
            "%(n)d counts differ from the books: count them once more.",
            again,
        )
        messages.warning(request, said % {"n": again})
    if not states:
        messages.warning(request, _("No count was written."))


def _show(request: HttpRequest, *, status: int = 200) -> HttpResponse:
    return page(
        request,
        "planner/counts.html",
        status=status,
        about=page_by_route("pages:counts"),
        sheets=count_sheet_heads(limit=SHEETS_SHOWN),
        worth_counting=next_counts(as_of=timezone.now(), limit=NEXT_SHOWN),
        ticked=request.POST.getlist("sku"),
        typed=request.POST,
        accuracy=accuracy_of_the_quarter().by_class,
        may_count=may(request.user, Scope.FLOOR),
    )


def _show_sheet(
    request: HttpRequest, found: CountSheetRow, *, faults: Mapping[str, str], status: int = 200
) -> HttpResponse:
    return page(
        request,
        "planner/count_sheet.html",
        status=status,
        title=_("Count sheet %(code)s") % {"code": found.code},
        sheet=found,
        faults=faults,
        typed=request.POST,
        most_spools=MOST_SPOOLS,
        may_count=may(request.user, Scope.FLOOR) and found.closed_at is None,
    )
