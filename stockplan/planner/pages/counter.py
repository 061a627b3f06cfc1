"""An order at the counter: spools put into it one SKU at a time, taken in one go, confirmed on paper."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from urllib.parse import quote, urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.models import Order
from inventory.order_errors import ClosedOrderError, UnknownOrderError
from inventory.rules.clock import Clock
from inventory.rules.order_draft import MAX_QUANTITY_SPOOLS
from inventory.rules.order_receipt import CANCELLED, NOTHING_PLANNED, PART, OrderReceipt
from inventory.selectors.kept import kept_orders
from inventory.selectors.orders import order_receipt
from inventory.selectors.skus import SkuCard, sku_cards
from inventory.services.keeping import end_kept
from inventory.services.orders import OrderDraft, place_order
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.planner.pages.counter_form import CounterForm, new_reference
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import action, page, working_page
from stockplan.planner.pages.stock import BASKET, CHANNEL, KEPT, SEEN, WRITTEN, show_counter
from stockplan.planner.pages.typed import TypedError, spools_given
from stockplan.planner.templatetags.planner_pages import day, moment

SEES = "inventory.view_shelfstock"
LINE = "line "


@takes_form
@action(Scope.ORDERS, sees=SEES)
def put(request: HttpRequest) -> HttpResponse:
    """Put spools of one SKU into the order, one if no number was typed. What is written in it already stays."""
    if not _is_as_shown(request):
        return _as_it_stands(request, _("Nothing was put into the order: %(why)s"))
    code = request.POST.get("sku", "")
    try:
        basket = _lines(request.POST) or request.session.get(BASKET, {})
        given = spools_given(request.POST, prefix="spools ", most={code: MAX_QUANTITY_SPOOLS})
        if code not in sku_cards([code]):
            raise TypedError(_("there is no SKU %(code)s.") % {"code": code})
    except TypedError as error:
        messages.error(request, _("Nothing was put into the order: %(why)s") % {"why": in_words(error)})
    else:
        _set(request, {**basket, code: basket.get(code, 0) + given.get(code, 1)})
    if "reference" in request.POST:
        request.session[WRITTEN] = CounterForm.written_in(request.POST)
    return _back_to_search(request)


@takes_form
@action(Scope.ORDERS, sees=SEES)
def clear(request: HttpRequest) -> HttpResponse:
    """Begin the order anew."""
    if not _is_as_shown(request):
        return _as_it_stands(request, _("The order was not begun anew: %(why)s"))
    _forget(request)
    return redirect("pages:stock")


@takes_form
@action(Scope.ORDERS, sees=SEES)
def take(request: HttpRequest) -> HttpResponse:
    """Take the order. The same form sent twice is the same order, by its reference."""
    form = CounterForm(request.POST)
    if not (_is_as_shown(request) or _is_placed(request)):
        return _as_it_stands(request, _("Nothing was ordered: %(why)s"))
    try:
        receipt = place_order(
            body=_draft(request, form), clock=Clock.at(timezone.now()), kept_order_id=request.session.get(KEPT)
        )
    except ClosedOrderError:
        request.session.pop(KEPT, None)
        why = _("Nothing was ordered: what was kept has gone back. Look at what is free, then take it.")
        return _refuse(request, form, why)
    except (BooksError, TypedError) as error:
        return _refuse(request, form, _("Nothing was ordered: %(why)s") % {"why": in_words(error)})
    _forget(request)
    request.session[CHANNEL] = form.cleaned_data["channel"]
    return redirect("pages:confirmation", receipt.order_id)


@takes_form
@action(Scope.ORDERS, sees=SEES)
def keep(request: HttpRequest) -> HttpResponse:
    """Keep the spools for a visitor until the hour on the form, all of them or none."""
    form = CounterForm(request.POST)
    if not (_is_as_shown(request) or _is_placed(request)):
        return _as_it_stands(request, _("Nothing is kept: %(why)s"))
    try:
        draft = _draft(request, form, kind=Order.Kind.KEPT)
        place_order(body=draft, clock=Clock.at(timezone.now()), kept_order_id=request.session.get(KEPT))
    except ClosedOrderError:
        request.session.pop(KEPT, None)
        why = _("Nothing is kept: what was kept has gone back. Look at what is free, then keep it anew.")
        return _refuse(request, form, why)
    except (BooksError, TypedError) as error:
        return _refuse(request, form, _("Nothing is kept: %(why)s") % {"why": in_words(error)})
    _forget(request)
    until = moment(form.cleaned_data["kept_until"])
    messages.success(request, _("The spools are kept until %(at)s. Then they go back by themselves.") % {"at": until})
    return redirect("pages:stock")


@takes_form
@action(Scope.ORDERS, sees=SEES)
def resume(request: HttpRequest, order_id: int) -> HttpResponse:
    """Put what is kept for a visitor into the order at the counter."""
    kept = next((one for one in kept_orders(now=timezone.now()) if one.order_id == order_id), None)
    if kept is None:
        messages.error(request, _("That is not kept any more."))
    elif request.session.get(BASKET):
        messages.error(request, _("There is an order at the counter already. Take it, keep it or begin anew first."))
    else:
        _set(request, kept.spools)
        request.session[KEPT] = order_id
        request.session[WRITTEN] |= {"channel": kept.channel_code, "ship_to": kept.visitor}
    return redirect("pages:stock")


@takes_form
@action(Scope.ORDERS, sees=SEES)
def give_back(request: HttpRequest, order_id: int) -> HttpResponse:
    """Give back before its hour what is kept for a visitor."""
    try:
        end_kept(order_id=order_id, clock=Clock.at(timezone.now()))
    except BooksError as error:
        messages.error(request, _("Nothing went back: %(why)s") % {"why": in_words(error)})
    else:
        messages.success(request, _("The spools are free again."))
    if request.session.get(KEPT) == order_id:
        _forget(request)
    return redirect("pages:stock")


def _draft(request: HttpRequest, form: CounterForm, *, kind: str = Order.Kind.REGULAR) -> OrderDraft:
    """Return the order of a form. Its hour counts only for what is kept."""
    if not form.is_valid():
        raise TypedError(_("see the fields below."))
    typed = form.cleaned_data
    return OrderDraft(
        channel_code=typed["channel"],
        reference=typed["reference"],
        ship_to=typed["ship_to"],
        wanted_day=typed["wanted_day"],
        may_part_ship=typed["may_part_ship"],
        kind=kind,
        kept_until=typed["kept_until"] if kind == Order.Kind.KEPT else None,
        lines=list(_lines(request.POST).items()),
    )


def _lines(posted: Mapping[str, str]) -> dict[str, int]:
    """Return the spools by SKU that are written in the order, none of a SKU that was set to 0."""
    codes = [name.removeprefix(LINE) for name in posted if name.startswith(LINE)]
    return spools_given(posted, prefix=LINE, most=dict.fromkeys(codes, MAX_QUANTITY_SPOOLS))


def _refuse(request: HttpRequest, form: CounterForm, why: str) -> HttpResponse:
    form.add_error(None, why)
    return show_counter(request, form=form, status=422)


def _mail(receipt: OrderReceipt, cards: Mapping[str, SkuCard]) -> str:
    """Return the address that opens the confirmation as a letter in the mail program of whoever sends it."""
    lines = [
        _("%(n)d x %(name)s (%(code)s): %(day)s")
        % {
            "n": line.quantity,
            "name": cards[line.sku_code].name,
            "code": line.sku_code,
            "day": day(line.ship_day) or _("no day yet"),
        }
        for line in receipt.lines
        if line.quantity
    ]
    ships = (
        _("Ships complete on %(day)s.") % {"day": day(receipt.ship_day)} if receipt.ship_day else _why_no_day(receipt)
    )
    subject = _("Your order %(reference)s") % {"reference": receipt.reference}
    return "mailto:?" + urlencode({"subject": subject, "body": "\r\n".join([*lines, ships])}, quote_via=quote)


def _why_no_day(receipt: OrderReceipt) -> str:
    """Say why an order has no ship day, "" where it has one."""
    if receipt.state == Order.State.CANCELLED:
        return _(CANCELLED)
    parts = [_(PART) % {"n": line.unpromised, "sku": line.sku_code} for line in receipt.unpromised_lines]
    return _(NOTHING_PLANNED) % {"parts": ", ".join(parts)} if parts else ""


def _set(request: HttpRequest, spools: Mapping[str, int]) -> None:
    """Set the spools of the order at the counter; its first ones give it a name."""
    request.session[BASKET], request.session[SEEN] = dict(spools), secrets.token_hex(4)
    request.session.setdefault(WRITTEN, {"reference": new_reference()})


def _forget(request: HttpRequest) -> None:
    for key in (BASKET, KEPT, WRITTEN, SEEN):
        request.session.pop(key, None)


def _is_as_shown(request: HttpRequest) -> bool:
    """Tell whether the order at the counter is what the page showed that sent this."""
    now = request.session.get(SEEN, "")
    return bool(request.POST.get("seen", now) == now)


def _is_placed(request: HttpRequest) -> bool:
    """Tell whether the order of a form is in the books: who sends it again is shown it, and no second one is taken."""
    named = {"channel__code": request.POST.get("channel", ""), "reference": request.POST.get("reference", "")}
    return Order.objects.filter(**named).exists()


def _as_it_stands(request: HttpRequest, refused: str) -> HttpResponse:
    """Refuse what a tab sends that shows the order as it was; what was typed into this very order stays."""
    if request.POST.get("reference") == request.session.get(WRITTEN, {}).get("reference", ""):
        request.session[WRITTEN] = CounterForm.written_in(request.POST)
    why = _("another tab of yours changed the order, or began another. This is how it stands now.")
    messages.error(request, refused % {"why": why})
    return _back_to_search(request)


def _back_to_search(request: HttpRequest) -> HttpResponse:
    back = urlencode({name: request.POST[name] for name in ("q", "page") if request.POST.get(name)})
    return redirect(f"{reverse('pages:stock')}?{back}")


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
        title=_("Order %(reference)s") % {"reference": receipt.reference},
        order=receipt,
        why_no_day=_why_no_day(receipt),
        cards=(cards := sku_cards([line.sku_code for line in receipt.lines])),
        mail=_mail(receipt, cards),
    )
