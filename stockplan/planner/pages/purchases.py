"""What to buy and by when. Takes some seconds to compute, so a button asks for it and the page says so."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.errors import BooksError
from stockplan.planner.core.purchasing import Purchase
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.csv_table import csv_answer
from stockplan.planner.pages.site import may_plan, page, page_by_route, planning_action, working_page
from stockplan.planner.services.purchase_advice import advise_purchases

CSV_HEADS = (
    "buy_by", "item", "name", "buy", "packs", "unit", "on_hand", "expected_need", "would_run_out_on", "late_days",
)  # fmt: skip


@require_safe
@working_page("planner.view_makelist")
def purchases(request: HttpRequest) -> HttpResponse:
    """Show the button that asks for the advice."""
    return _show(request, None)


@require_POST
@planning_action
def advise(request: HttpRequest) -> HttpResponse:
    """Compute what to buy from what the books know now, and show it by the day until which to buy it, or as CSV."""
    now = timezone.now()
    try:
        advised = advise_purchases(as_of=now, now=now)
    except (PlanningError, BooksError) as error:
        messages.error(request, _("Nothing was computed: %(why)s") % {"why": error})
        return _show(request, None, status=422)
    if "csv" in request.POST:
        return csv_answer("purchases", CSV_HEADS, [_csv_row(purchase) for purchase in _by_day(advised)])
    return _show(request, advised)


def _by_day(advised: Iterable[Purchase]) -> list[Purchase]:
    return sorted(advised, key=lambda purchase: (purchase.buy_by, purchase.item))


def _csv_row(purchase: Purchase) -> tuple[object, ...]:
    amounts = (round(purchase.quantity, 3), purchase.packs or "", purchase.unit, round(purchase.on_hand, 3))
    need = (round(purchase.expected_need, 3), purchase.runs_out_on, purchase.late_days)
    return (purchase.buy_by, purchase.item, purchase.name, *amounts, *need)


def _show(request: HttpRequest, advised: tuple[Purchase, ...] | None, *, status: int = 200) -> HttpResponse:
    by_day = _by_day(advised or ())
    return page(
        request,
        "planner/purchases.html",
        status=status,
        about=page_by_route("pages:purchases"),
        is_computed=advised is not None,
        days=[(day, list(rows)) for day, rows in groupby(by_day, key=lambda purchase: purchase.buy_by)],
        may_plan=may_plan(request.user),
    )
