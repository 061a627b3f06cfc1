"""The counter of sales: one search field, the promise behind every SKU, what to offer instead, and the order."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime
from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.rules.clock import Clock
from inventory.rules.search import MISSPELLED
from inventory.selectors.kept import kept_orders
from inventory.selectors.scans import orders_of_scan
from inventory.selectors.search import FoundSku, found_skus
from inventory.selectors.stock import StockRow, stock_rows
from inventory.selectors.substitutes import substitutes
from inventory.services.keeping import end_past_kept
from stockplan.access.models import Scope
from stockplan.planner.pages.counter_form import CounterForm
from stockplan.planner.pages.site import may, page, working_page
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.capacity import earliest_capacity_days
from stockplan.planner.selectors.cut_off import next_cut_off

ROWS_PER_PAGE = 50
# The session holds what the order at the counter has so far: spools by SKU code.
BASKET = "counter_basket"
# And, where it began with what is kept for a visitor, the id of that.
KEPT = "counter_kept"
# What was written in it when further spools were put into it.
WRITTEN = "counter_written"
# Which state of it a page shows: another one after each change, none without an order.
SEEN = "counter_seen"
# The channel of the last order, which the next one mostly has as well.
CHANNEL = "counter_channel"
# Asked for by the script that shows finds while somebody types.
FOUND_PART = "found"


@require_safe
@working_page("inventory.view_shelfstock")
def stock(request: HttpRequest) -> HttpResponse:
    """Show the SKUs that answer to the search, or only them; read only but for what is kept past its hour."""
    end_past_kept(clock=Clock.at(timezone.now()))
    if request.GET.get("part") == FOUND_PART:
        return page(request, "planner/parts/found.html", **_found(request))
    if scanned := _scanned_order(request):
        return redirect("pages:confirmation", scanned)
    return show_counter(request, form=_begun(request))


def _begun(request: HttpRequest) -> CounterForm:
    """Return the form of the order as far as it was written, of the channel of the last one where it says none."""
    written = request.session.get(WRITTEN, {})
    return CounterForm.begun({"channel": request.session.get(CHANNEL, ""), **written})


def _scanned_order(request: HttpRequest) -> int | None:
    """Return the order whose reference was scanned into the search field, unless the words find goods."""
    search = request.GET.get("q", "").strip()
    if not search or not request.user.has_perm("inventory.view_order"):
        return None
    orders = orders_of_scan(search)
    if len(orders) != 1 or any(one.rank != MISSPELLED for one in found_skus(search)):
        return None
    return orders[0].pk


def show_counter(request: HttpRequest, *, form: CounterForm, status: int = 200) -> HttpResponse:
    """Show the whole page, with the order that is being taken and what was typed into it."""
    now = timezone.now()
    basket: dict[str, int] = request.session.get(BASKET, {})
    kept = kept_orders(now=now)
    return page(
        request,
        "planner/stock.html",
        status=status,
        about=page_by_route("pages:stock"),
        cut_off=next_cut_off(now=now),
        basket=[(row, basket[row.sku_code]) for row in stock_rows(now=now, skus=list(basket))] if basket else [],
        kept=kept,
        kept_here=next((one.spools for one in kept if one.order_id == request.session.get(KEPT)), {}),
        form=form,
        typed=request.POST,
        **_found(request),
    )


def _found(request: HttpRequest) -> dict[str, Any]:
    now, search = timezone.now(), request.GET.get("q", "").strip()
    found = Paginator(found_skus(search), ROWS_PER_PAGE).get_page(request.GET.get("page"))
    rows = _rows_of(found)
    short = [row.sku_id for row in rows if row.free <= 0]
    # Without free supply: the day that capacity could give. Not a promise, and it takes its time: only where asked.
    unsupplied = [(row.sku_id, 1) for row in rows if row.order_now_ships_on is None]
    is_asked = "earliest" in request.GET
    instead = substitutes(short, today=timezone.localdate())
    return {
        "search": search,
        "found": found,
        "rows": rows,
        "is_misspelled": bool(found) and found[0].rank == MISSPELLED,
        "is_earliest_open": bool(unsupplied) and not is_asked,
        "capacity_days": _capacity_days(unsupplied, now=now) if unsupplied and is_asked else {},
        "instead": instead,
        "has_near_colours": any(other.nearest for other in instead.values()),
        "may_see_plan": request.user.has_perm("planner.view_skuforecast"),
        "may_order": may(request.user, Scope.ORDERS),
        "seen": request.session.get(SEEN, ""),
    }


def _capacity_days(unsupplied: Collection[tuple[int, int]], *, now: datetime) -> dict[int, date | None]:
    return {sku_id: day for (sku_id, _), day in earliest_capacity_days(unsupplied, as_of=now).items()}


def _rows_of(found: Page[FoundSku]) -> Sequence[StockRow]:
    """Return the stock of one page of finds, in their order."""
    rows = {row.sku_code: row for row in stock_rows(now=timezone.now(), skus=[one.code for one in found])}
    return [rows[one.code] for one in found]
