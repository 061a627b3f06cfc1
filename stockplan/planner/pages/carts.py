"""A cart by its bar code: what stands on it, and the one thing that comes next with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from inventory.errors import BooksError, NotFoundError
from inventory.rules.clock import Clock
from inventory.selectors.carts import CartRow, cart_row
from inventory.selectors.finishing import finishing_board
from inventory.services.carts import empty_cart, load_carts, pack_cart, put_on_cart, unload_cart
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.planner.core.cautions import OVEN_CAUTIONS
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import action, may, page, person_of, working_page
from stockplan.planner.pages.typed import TypedError, spools_given
from stockplan.planner.templatetags.planner_pages import moment

SEES = "inventory.view_ovenload"
LOT = "spools "


def _unload(code: str, clock: Clock, by: User) -> str:
    unload_cart(cart_code=code, clock=clock, posted_by=by)
    return _("The load is out of the oven; its spools wait to be packed.")


def _pack(code: str, clock: Clock, by: User) -> str:
    pack_cart(cart_code=code, clock=clock, posted_by=by)
    return _("The spools are on the shelf; the cart is empty.")


def _empty(code: str, _clock: Clock, _by: User) -> str:
    empty_cart(cart_code=code)
    return _("The cart is empty; its spools lie where they lay.")


STEPS: Mapping[str, Callable[[str, Clock, User], str]] = {"unload": _unload, "pack": _pack, "empty": _empty}


@require_safe
@working_page(SEES)
def find(request: HttpRequest) -> HttpResponse:
    """Go to the cart that was scanned."""
    code = request.GET.get("code", "").strip().upper()
    try:
        return redirect("pages:cart", cart_row(code).code)
    except NotFoundError as error:
        messages.error(request, in_words(error))
        return redirect("pages:ovens")


@require_safe
@working_page(SEES)
def cart(request: HttpRequest, code: str) -> HttpResponse:
    """Show one cart."""
    return _show(request, cart_or_404(code))


@takes_form
@action(Scope.FLOOR, sees=SEES)
def put(request: HttpRequest, code: str) -> HttpResponse:
    """Put wound spools on a cart."""
    shown = cart_or_404(code)
    try:
        most = {row.lot_code: row.loose for row in finishing_board().wound}
        given = spools_given(request.POST, prefix=LOT, most=most)
        put_on_cart(cart_code=shown.code, spools=given)
    except (BooksError, TypedError) as error:
        messages.error(request, _("Nothing was written: %(why)s") % {"why": in_words(error)})
        return _show(request, shown, status=422)
    total = sum(given.values())
    said = ngettext("%(n)d spool is on %(cart)s.", "%(n)d spools are on %(cart)s.", total)
    messages.success(request, said % {"n": total, "cart": code})
    return redirect("pages:cart", code)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def step(request: HttpRequest, code: str, step: str) -> HttpResponse:
    """Take one step with a cart: out of the oven, onto the shelf, or empty."""
    shown = cart_or_404(code)
    if step not in STEPS:
        raise Http404(f"A cart takes no step {step!r}.")
    try:
        said = STEPS[step](shown.code, Clock.at(timezone.now()), person_of(request))
    except BooksError as error:
        messages.error(request, _("Nothing was written: %(why)s") % {"why": in_words(error)})
        return _show(request, shown, status=422)
    messages.success(request, said)
    return redirect("pages:cart", code)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def load(request: HttpRequest, code: str) -> HttpResponse:
    """Load an oven with the carts that were scanned, one after the other."""
    codes = request.POST.get("carts", "").upper().split()
    try:
        loaded = load_carts(
            oven_code=code, cart_codes=codes, clock=Clock.at(timezone.now()), posted_by=person_of(request)
        )
    except BooksError as error:
        messages.error(request, _("Nothing was written: %(why)s") % {"why": in_words(error)})
        return redirect("pages:ovens")
    messages.success(request, _("%(oven)s is loaded; dry at %(at)s.") % {"oven": code, "at": moment(loaded.ready_at)})
    return redirect("pages:ovens")


def cart_or_404(code: str) -> CartRow:
    """Return a cart by its code, or answer that there is none."""
    try:
        return cart_row(code)
    except NotFoundError as error:
        raise Http404(str(error)) from error


def _show(request: HttpRequest, shown: CartRow, *, status: int = 200) -> HttpResponse:
    is_waiting = shown.load_code is None
    return page(
        request,
        "planner/cart.html",
        status=status,
        title=_("Cart %(code)s") % {"code": shown.code},
        cart=shown,
        wound=[row for row in finishing_board().wound if row.dry_h and row.loose] if is_waiting else [],
        is_dry=shown.ready_at is not None and shown.ready_at <= timezone.now(),
        cautions=OVEN_CAUTIONS,
        may_report=may(request.user, Scope.FLOOR),
    )
