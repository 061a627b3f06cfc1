"""Trace and recall: from an order, a run or a lot to what went into it, where it lies and who got some of it."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.rules.clock import Clock
from inventory.rules.gs1 import lot_of_scan
from inventory.selectors.lots import Trace
from inventory.selectors.set_aside import are_all_held
from inventory.selectors.traceable import found_to_trace
from inventory.services.holds import hold_lots
from inventory.services.ledger import MAX_REASON_LENGTH
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import action, may, page, person_of, working_page
from stockplan.planner.pages.trace_rows import Begun, begun, begun_or_404
from stockplan.planner.pages.working_pages import page_by_route

SEES = "inventory.view_lot"
ROWS_SHOWN = 100


@require_safe
@working_page(SEES)
def trace(request: HttpRequest) -> HttpResponse:
    """Find where to begin, or show the trace from there."""
    search = request.GET.get("q", "").strip()
    found = found_to_trace(lot_of_scan(search) or search) if search else ()
    if len(found) == 1:
        return redirect(f"{reverse('pages:trace')}?{urlencode({found[0].kind: found[0].key})}")
    rows = Paginator(found, ROWS_SHOWN).get_page(request.GET.get("page"))
    return _show(request, begun(request.GET), search=search, rows=rows)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def hold(request: HttpRequest) -> HttpResponse:
    """Hold every lot of a trace that is not held yet."""
    asked = begun_or_404(request.POST)
    reason = request.POST.get("reason", "").strip()
    if not 0 < len(reason) <= MAX_REASON_LENGTH:
        messages.error(
            request, _("Nothing was held: say why, in at most %(most)d letters.") % {"most": MAX_REASON_LENGTH}
        )
        return _show(request, asked, status=422)
    try:
        held = hold_lots(
            lot_codes=asked.lots, clock=Clock.at(timezone.now()), reason=reason, posted_by=person_of(request)
        )
    except BooksError as error:
        messages.error(request, _("Nothing was held: %(why)s") % {"why": in_words(error)})
        return _show(request, asked, status=409)
    messages.success(request, _("Held now: %(lots)s.") % {"lots": ", ".join(held) or _("none, all were held before")})
    return redirect(f"{reverse('pages:trace')}?{asked.query}")


def _show(request: HttpRequest, asked: Begun | None, *, status: int = 200, **context: object) -> HttpResponse:
    facts = _facts(asked.trace) | {"is_all_held": are_all_held(asked.lots)} if asked else {}
    return page(
        request,
        "planner/trace.html",
        status=status,
        about=page_by_route("pages:trace"),
        begun=asked,
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
        "spools_delivered": int(sum(row.quantity for row in found.delivered)),
    }
