"""Trace and recall: from an order, a run or a lot to what went into it, where it lies and who got some of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.errors import BooksError, NotFoundError
from inventory.rules.clock import Clock
from inventory.selectors.lots import Trace, trace_lot, trace_order, trace_run
from inventory.selectors.traceable import found_to_trace
from inventory.services.holds import hold_lots
from inventory.services.ledger import MAX_REASON_LENGTH
from stockplan.access.models import Scope
from stockplan.planner.pages.csv_table import csv_answer
from stockplan.planner.pages.site import action, may, page, page_by_route, person_of, working_page
from stockplan.planner.pages.typed import whole_number

SEES = "inventory.view_lot"
ROWS_SHOWN = 100


def _of_order(key: str) -> Trace:
    order_id = whole_number(key)
    if order_id is None:
        raise NotFoundError(f"There is no order {key!r}.")
    return trace_order(order_id)


BEGINNINGS: Mapping[str, Callable[[str], Trace]] = {"order": _of_order, "run": trace_run, "lot": trace_lot}


@dataclass(frozen=True)
class Begun:
    """A trace and what it began with."""

    kind: str
    key: str
    trace: Trace

    @property
    def query(self) -> str:
        """The part of an address that names this trace."""
        return urlencode({self.kind: self.key})

    @property
    def lots(self) -> list[str]:
        """The lots that a recall takes back: those of spools, and the lot that it began with."""
        return sorted({row.lot_code for row in self.trace.spools} | ({self.key} if self.kind == "lot" else set()))


@require_safe
@working_page(SEES)
def trace(request: HttpRequest) -> HttpResponse:
    """Find where to begin, or show the trace from there."""
    search = request.GET.get("q", "").strip()
    found = found_to_trace(search) if search else ()
    if len(found) == 1:
        return redirect(f"{reverse('pages:trace')}?{urlencode({found[0].kind: found[0].key})}")
    return _show(request, _begun(request.GET), search=search, found=found)


@require_safe
@working_page(SEES)
def table(request: HttpRequest, name: str) -> HttpResponse:
    """Give one table of a trace with all its rows as CSV."""
    begun = _begun(request.GET)
    if begun is None or name not in _TABLES:
        raise Http404(f"There is no table {name} of a trace at this address.")
    heads, rows_of = _TABLES[name]
    return csv_answer(f"{name}-{begun.kind}-{_plain(begun.key)}", heads, rows_of(begun.trace))


@require_POST
@action(Scope.FLOOR, sees=SEES)
def hold(request: HttpRequest) -> HttpResponse:
    """Hold every lot of a trace that is not held yet."""
    begun = _begun(request.POST)
    if begun is None:
        raise Http404("Name a lot, a run or an order.")
    reason = request.POST.get("reason", "").strip()
    if not 0 < len(reason) <= MAX_REASON_LENGTH:
        messages.error(
            request, _("Nothing was held: say why, in at most %(most)d letters.") % {"most": MAX_REASON_LENGTH}
        )
        return _show(request, begun, status=422)
    try:
        held = hold_lots(
            lot_codes=begun.lots, clock=Clock.at(timezone.now()), reason=reason, posted_by=person_of(request)
        )
    except BooksError as error:
        messages.error(request, _("Nothing was held: %(why)s") % {"why": error})
        return _show(request, begun, status=409)
    messages.success(request, _("Held now: %(lots)s.") % {"lots": ", ".join(held) or _("none, all were held before")})
    return redirect(f"{reverse('pages:trace')}?{begun.query}")


def _begun(given: QueryDict) -> Begun | None:
    kind = next((name for name in BEGINNINGS if given.get(name)), None)
    if kind is None:
        return None
    key = str(given[kind])
    try:
        return Begun(kind, key, BEGINNINGS[kind](key))
    except NotFoundError as error:
        raise Http404(str(error)) from error


def _show(request: HttpRequest, begun: Begun | None, *, status: int = 200, **context: object) -> HttpResponse:
    facts = _facts(begun.trace) if begun else {}
    return page(
        request,
        "planner/trace.html",
        status=status,
        about=page_by_route("pages:trace"),
        begun=begun,
        shown=ROWS_SHOWN,
        shown_rows=f":{ROWS_SHOWN}",
        may_hold=may(request.user, Scope.FLOOR),
        **facts,
        **context,
    )


def _facts(found: Trace) -> dict[str, object]:
    return {
        "sku_of": {row.lot_code: row.sku_code for row in found.spools},
        "lying": [row for row in found.places if row.is_in_plant],
        "not_held": [row.lot_code for row in found.spools if not row.is_held],
        "orders": len({row.order_id for row in found.delivered}),
        "spools_delivered": sum(row.quantity for row in found.delivered),
    }


def _plain(key: str) -> str:
    """Letters, digits and dashes of a key, for the name of a file."""
    return "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in key)


_Rows = Iterable[tuple[object, ...]]


def _delivered(found: Trace) -> _Rows:
    by_lot = {row.lot_code: row for row in found.spools}
    for row in found.delivered:
        spool = by_lot[row.lot_code]
        parcel = (row.channel_code, row.reference, row.ship_to, row.shipment_id, row.ship_day)
        yield (row.order_id, *parcel, row.lot_code, spool.sku_code, spool.run_code or "", row.quantity)


def _places(found: Trace) -> _Rows:
    by_lot = {row.lot_code: row.sku_code for row in found.spools}
    for row in found.places:
        yield row.lot_code, by_lot.get(row.lot_code, ""), row.place_code, row.is_in_plant, row.quantity


def _spools(found: Trace) -> _Rows:
    return [(row.lot_code, row.sku_code, row.run_code or "", row.quantity, row.is_held) for row in found.spools]


def _materials(found: Trace) -> _Rows:
    rows = [(row, False) for row in found.materials] + [(row, True) for row in found.unexplained]
    return [
        (row.lot_code, row.item_code, row.supplier_lot, row.run_code, row.quantity, is_unexplained)
        for row, is_unexplained in rows
    ]


_TABLES: Mapping[str, tuple[tuple[str, ...], Callable[[Trace], _Rows]]] = {
    "delivered": (
        ("order", "channel", "reference", "ship_to", "shipment", "ship_day", "lot", "sku", "run", "spools"),
        _delivered,
    ),
    "places": (("lot", "sku", "place", "is_in_plant", "quantity"), _places),
    "spools": (("lot", "sku", "run", "spools", "is_held"), _spools),
    "materials": (("lot", "item", "supplier_lot", "run", "quantity", "is_unexplained"), _materials),
}
