"""An order at the counter: spools put into it one SKU at a time, taken in one go, confirmed on paper."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.errors import BooksError
from inventory.order_errors import UnknownOrderError
from inventory.rules.clock import Clock
from inventory.rules.order_draft import MAX_QUANTITY_SPOOLS
from inventory.selectors.orders import order_receipt
from inventory.selectors.skus import sku_cards
from inventory.services.orders import OrderDraft, place_order
from stockplan.access.models import Scope
from stockplan.planner.pages.counter_form import CounterForm
from stockplan.planner.pages.site import action, page, working_page
from stockplan.planner.pages.stock import BASKET, show_counter
from stockplan.planner.pages.typed import TypedError, spools_given

SEES = "inventory.view_shelfstock"
LINE = "line "


@require_POST
@action(Scope.ORDERS, sees=SEES)
def put(request: HttpRequest) -> HttpResponse:
    """Put spools of one SKU into the order, one if no number was typed."""
    code = request.POST.get("sku", "")
    try:
        given = spools_given(request.POST, prefix="spools ", most={code: MAX_QUANTITY_SPOOLS})
        if code not in sku_cards([code]):
            raise TypedError(f"there is no SKU {code}.")
    except TypedError as error:
        messages.error(request, f"Nothing was put into the order: {error}")
    else:
        basket = request.session.get(BASKET, {})
        request.session[BASKET] = {**basket, code: basket.get(code, 0) + given.get(code, 1)}
    back = urlencode({name: request.POST[name] for name in ("q", "page") if request.POST.get(name)})
    return redirect(f"{reverse('pages:stock')}?{back}")


@require_POST
@action(Scope.ORDERS, sees=SEES)
def clear(request: HttpRequest) -> HttpResponse:
    """Begin the order anew."""
    request.session.pop(BASKET, None)
    return redirect("pages:stock")


@require_POST
@action(Scope.ORDERS, sees=SEES)
def take(request: HttpRequest) -> HttpResponse:
    """Take the order. The same form sent twice is the same order, by its reference."""
    form = CounterForm(request.POST)
    if not form.is_valid():
        return show_counter(request, form=form, status=422)
    codes = [name.removeprefix(LINE) for name in request.POST if name.startswith(LINE)]
    try:
        lines = spools_given(request.POST, prefix=LINE, most=dict.fromkeys(codes, MAX_QUANTITY_SPOOLS))
        given = {**form.cleaned_data, "channel_code": form.cleaned_data["channel"]}
        del given["channel"]
        receipt = place_order(body=OrderDraft(lines=list(lines.items()), **given), clock=Clock.at(timezone.now()))
    except (BooksError, TypedError) as error:
        form.add_error(None, f"Nothing was ordered: {error}")
        return show_counter(request, form=form, status=422)
    request.session.pop(BASKET, None)
    return redirect("pages:confirmation", receipt.order_id)


@require_safe
@working_page("inventory.view_order")
def confirmation(request: HttpRequest, order_id: int) -> HttpResponse:
    """Show what an order was promised, to print for the customer."""
    try:
        receipt = order_receipt(order_id)
    except UnknownOrderError as error:
        raise Http404(str(error)) from error
    return page(
        request,
        "planner/confirmation.html",
        title=f"Order {receipt.reference}",
        order=receipt,
        cards=sku_cards([line.sku_code for line in receipt.lines]),
    )
