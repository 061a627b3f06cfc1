"""The stock page of sales: one search field, and the promise behind every SKU."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.rules.search import MISSPELLED
from inventory.selectors.stock import stock_rows
from stockplan.planner.pages.site import page, page_by_route, working_page
from stockplan.planner.selectors.capacity import earliest_capacity_days
from stockplan.planner.selectors.cut_off import next_cut_off

ROWS_PER_PAGE = 50


@require_safe
@working_page("inventory.view_shelfstock")
def stock(request: HttpRequest) -> HttpResponse:
    """Show the SKUs that answer to the search; read only."""
    search = request.GET.get("q", "").strip()
    now = timezone.now()
    rows = Paginator(stock_rows(now=now, search=search or None), ROWS_PER_PAGE).get_page(request.GET.get("page"))
    # Without free supply: the day that capacity could give. Not a promise, so it stands in words of its own.
    unsupplied = {row.sku_id: 1 for row in rows if row.order_now_ships_on is None}
    return page(
        request,
        "planner/stock.html",
        about=page_by_route("pages:stock"),
        search=search,
        is_misspelled=bool(rows) and rows[0].search_rank == MISSPELLED,
        rows=rows,
        cut_off=next_cut_off(now=now),
        capacity_days=earliest_capacity_days(unsupplied, as_of=now) if unsupplied else {},
        may_see_plan=request.user.has_perm("planner.view_skuforecast"),
    )
