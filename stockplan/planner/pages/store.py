"""Store and shelf: what came, what left without an order, what came back, what was counted or is held."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.rules.clock import Clock
from inventory.selectors.movement_rows import latest_reports
from inventory.selectors.set_aside import held_lots, waiting_returns
from inventory.services.counts import post_count
from inventory.services.holds import hold_lot, release_lot
from inventory.services.receipts import receive_material
from inventory.services.returns import receive_return, restock
from inventory.services.scrap import scrap, take_own_use, take_samples
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import action, may, page, person_of, working_page
from stockplan.planner.pages.store_form import StoreForm
from stockplan.planner.pages.working_pages import page_by_route

SEES = "inventory.view_ovenload"
# The services name their own fields where a value is refused; the form may call them otherwise.
FIELD_OF = {"counted": "quantity", "lot": "any_lot", "quantity": "spools", "item": "sku"}


@dataclass(frozen=True)
class Report:
    """One thing that can be reported: its words, its fields and the service that writes it."""

    name: str
    title: Promise
    note: Promise
    fields: tuple[str, ...]
    write: Callable[..., object]


def _receive(*, item: str, lot: str, quantity: Any, clock: Clock, posted_by: User, **rest: str) -> object:
    return receive_material(item_code=item, lot_code=lot, quantity=quantity, clock=clock, posted_by=posted_by, **rest)


def _count(*, item: str, place: str, any_lot: str, quantity: Any, **rest: Any) -> object:
    return post_count(item_code=item, place_kind=place, lot_code=any_lot or None, counted=quantity, **rest)


def _scrap(*, item: str, place: str, any_lot: str, **rest: Any) -> object:
    return scrap(item_code=item, place_kind=place, lot_code=any_lot or None, **rest)


def _own_use(*, sku: str, any_lot: str, spools: int, **rest: Any) -> object:
    return take_own_use(sku_code=sku, lot_code=any_lot or None, quantity=spools, **rest)


def _sample(*, sku: str, any_lot: str, spools: int, **rest: Any) -> object:
    return take_samples(sku_code=sku, lot_code=any_lot or None, quantity=spools, **rest)


def _return(*, sku: str, lot: str, spools: int, **rest: Any) -> object:
    return receive_return(sku_code=sku, lot_code=lot, quantity=spools, **rest)


def _restock(*, sku: str, lot: str, spools: int, **rest: Any) -> object:
    return restock(sku_code=sku, lot_code=lot, quantity=spools, **rest)


def _hold(*, lot: str, **rest: Any) -> object:
    return hold_lot(lot_code=lot, **rest)


def _release(*, lot: str, **rest: Any) -> object:
    return release_lot(lot_code=lot, **rest)


OF_SHELF = ("sku", "any_lot", "spools", "reason")
OF_CUSTOMER = ("sku", "lot", "spools", "reason")
# Beside which reports it is listed what waits for inspection, and what is held.
OF_RETURNS, OF_HOLDS = ("return", "restock"), ("hold", "release")
REPORTS = {
    report.name: report
    for report in (
        Report(
            "receipt", _("Delivery"), _("Resin, concentrate, spools or boxes came from a supplier."),
            ("item", "lot", "supplier_lot", "quantity", "document"), _receive,
        ),
        Report(
            "count", _("Count"), _("What lies there is true: the books follow, and promises with them."),
            ("item", "place", "any_lot", "quantity", "reason"), _count,
        ),
        Report(
            "scrap", _("Scrap"), _("Spools, material or parts are thrown away; promises on them are made anew."),
            ("item", "place", "any_lot", "quantity", "reason"), _scrap,
        ),
        Report("own-use", _("Own use"), _("The plant takes spools off the shelf for itself."), OF_SHELF, _own_use),
        Report("sample", _("Sample"), _("Spools leave the shelf as samples."), OF_SHELF, _sample),
        Report(
            "return", _("Return"), _("A customer sent spools back; they wait for inspection and are not for sale."),
            OF_CUSTOMER, _return,
        ),
        Report(
            "restock", _("Back on the shelf"), _("Returned spools are good and lie on the shelf again."),
            OF_CUSTOMER, _restock,
        ),
        Report(
            "hold", _("Hold a lot"), _("All of a lot leaves sale and use at once, wherever it lies."),
            ("lot", "reason"), _hold,
        ),
        Report("release", _("Release a lot"), _("A held lot goes back to where it was."), ("lot", "reason"), _release),
    )
}  # fmt: skip


@require_safe
@working_page(SEES)
def store(request: HttpRequest, name: str = "receipt") -> HttpResponse:
    """Show the form of one report, and the latest reports."""
    return _show(request, _report_or_404(name))


@takes_form
@action(Scope.FLOOR, sees=SEES)
def report_it(request: HttpRequest, name: str) -> HttpResponse:
    """Write one report into the books."""
    report = _report_or_404(name)
    form = StoreForm(request.POST, shows=report.fields)
    if not form.is_valid():
        return _refuse(request, report, form)
    try:
        report.write(**form.cleaned_data, clock=Clock.at(timezone.now()), posted_by=person_of(request))
    except BooksError as error:
        form.add_error(_field_of(error, form), in_words(error))
        return _refuse(request, report, form)
    messages.success(request, _("Written into the books: %(what)s.") % {"what": str(report.title).lower()})
    return redirect("pages:store-report", name=name)


def _refuse(request: HttpRequest, report: Report, form: StoreForm) -> HttpResponse:
    """Show the form again, with the focus on the first field at fault."""
    at_fault = next((name for name in form.fields if name in form.errors), None)
    if at_fault is not None:
        form.fields[at_fault].widget.attrs["autofocus"] = True
    return _show(request, report, form=form, status=422)


def _report_or_404(name: str) -> Report:
    if name not in REPORTS:
        raise Http404(f"No report is called {name!r}.")
    return REPORTS[name]


def _field_of(error: BooksError, form: StoreForm) -> str | None:
    name = error.pointer.strip("/")
    return next((field for field in (name, FIELD_OF.get(name)) if field in form.fields), None)


def _show(request: HttpRequest, report: Report, *, form: StoreForm | None = None, status: int = 200) -> HttpResponse:
    return page(
        request,
        "planner/store.html",
        status=status,
        about=page_by_route("pages:store"),
        reports=list(REPORTS.values()),
        report=report,
        form=form or StoreForm(shows=report.fields, initial=request.GET.dict()),
        waiting=waiting_returns() if report.name in OF_RETURNS else (),
        held=held_lots() if report.name in OF_HOLDS else (),
        latest=latest_reports(limit=15),
        may_report=may(request.user, Scope.FLOOR),
    )
