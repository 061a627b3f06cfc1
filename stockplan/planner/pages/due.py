"""Due today: what leaves with the next pick-up, what to pick for it, what to pack first, and what cannot leave."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.models import Order
from inventory.order_errors import UnknownOrderError
from inventory.rules.clock import Clock
from inventory.selectors.due import DueOrder, Stage, due_order, next_pick_up
from inventory.selectors.orders import order_receipt
from inventory.selectors.scans import orders_of_scan
from inventory.services.shipments import ship_order
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import action, may, page, person_of, working_page
from stockplan.planner.pages.typed import Fault, TypedError, fault_of, spools_given
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.templatetags.planner_pages import day

ORDERS_PER_PAGE = 30
PICKS_PER_PAGE = 60


@dataclass(frozen=True)
class Pick:
    """Spools of one SKU to take from one shelf place, for all orders that are ready."""

    shelf_place: str
    sku_code: str
    sku_name: str
    colour_hex: str
    spools: int
    orders: int


@dataclass(frozen=True)
class PackFirst:
    """Spools of a run that orders of this pick-up wait for and that could still make it."""

    run_code: str
    sku_code: str
    sku_name: str
    colour_hex: str
    spools: int
    stage: str
    stage_at: datetime | None


@require_safe
@working_page("inventory.view_shipment")
def due(request: HttpRequest) -> HttpResponse:
    """Show the orders of the next pick-up."""
    return _show_due(request, called=())


def _show_due(request: HttpRequest, *, called: Sequence[Order]) -> HttpResponse:
    """Show the page, with the orders that a scan may have meant."""
    pick_up = next_pick_up(now=timezone.now())
    leaving = Paginator((*pick_up.ready, *pick_up.part_ready), ORDERS_PER_PAGE)
    waiting = Paginator(pick_up.stuck, ORDERS_PER_PAGE)
    return page(
        request,
        "planner/due.html",
        about=page_by_route("pages:due"),
        called=called,
        pick_up=pick_up,
        leaving=leaving.get_page(request.GET.get("page")),
        waiting=waiting.get_page(request.GET.get("waiting")),
        picks=Paginator(picks_of(pick_up.ready), PICKS_PER_PAGE).get_page(request.GET.get("pick")),
        pack_first=pack_first_of(pick_up.orders),
        may_ship=may(request.user, Scope.SHIP),
    )


@require_safe
@working_page("inventory.view_shipment")
def find(request: HttpRequest) -> HttpResponse:
    """Go to the order whose carton label or packing slip was scanned; of several, to the list with links to each."""
    code = request.GET.get("code", "").strip()
    found = orders_of_scan(code)
    is_open = [one for one in found if one.state == Order.State.OPEN]
    if len(is_open) == 1:
        return redirect("pages:due-order", is_open[0].pk)
    if is_open:
        return _show_due(request, called=is_open)
    if found:
        names = {"channel": found[-1].channel.code, "reference": code, "state": found[-1].get_state_display()}
        messages.error(request, _("Order %(reference)s of %(channel)s is %(state)s: nothing of it is open.") % names)
    else:
        messages.error(request, _("No order is called %(code)s.") % {"code": code})
    return redirect("pages:due")


@require_safe
@working_page("inventory.view_shipment")
def order(request: HttpRequest, order_id: int) -> HttpResponse:
    """Show one order to pack: its lines, each confirmed by scan or by hand."""
    return _show(request, order_or_404(order_id))


@takes_form
@action(Scope.SHIP, sees="inventory.view_shipment")
def ship(request: HttpRequest, order_id: int) -> HttpResponse:
    """Ship what was confirmed of an order."""
    shown = order_or_404(order_id)
    most = {str(line.line_no): line.on_shelf for line in shown.lines}
    try:
        given = spools_given(request.POST, prefix="line ", most=most)
        if not given:
            raise TypedError(_("no line is confirmed yet. Scan the spools or type how many lie before you."))
        shipment = ship_order(
            order_id=order_id,
            clock=Clock.at(timezone.now()),
            lines={int(number): spools for number, spools in given.items()},
            posted_by=person_of(request),
            document=request.POST.get("document", "").strip()[:80],
        )
    except (BooksError, TypedError) as error:
        fault = fault_of(error)
        messages.error(request, _("Nothing was shipped: %(why)s") % {"why": fault.why})
        return _show(request, shown, fault=fault, status=422)
    left = _("Something of it stays open.") if due_order(order_id) else _("It is complete.")
    said = _("Order %(reference)s left on %(day)s.") % {"reference": shown.reference, "day": day(shipment.ship_day)}
    messages.success(request, f"{said} {left}")
    return redirect("pages:due")


def picks_of(orders: Iterable[DueOrder]) -> list[Pick]:
    """Return what to take from the shelf, in the order of its places; a SKU without a place comes last."""
    spools: defaultdict[tuple[str, str, str, str], int] = defaultdict(int)
    count: defaultdict[tuple[str, str, str, str], int] = defaultdict(int)
    for one in orders:
        for line in one.lines:
            key = (line.shelf_place, line.sku_code, line.sku_name, line.colour_hex)
            spools[key] += line.on_shelf
            count[key] += 1
    return [Pick(*key, spools[key], count[key]) for key in sorted(spools, key=lambda key: (not key[0], key))]


def pack_first_of(orders: Iterable[DueOrder]) -> list[PackFirst]:
    """Return the spools that are dry or drying and that these orders wait for, those that are dry first."""
    rows: dict[tuple[str, str, str, datetime | None], PackFirst] = {}
    for one in orders:
        for line in one.lines:
            for part in line.awaited:
                if part.stage in (Stage.PACKING, Stage.OVEN):
                    key = (part.run_code, line.sku_code, part.stage, part.stage_at)
                    before = rows.get(key)
                    rows[key] = PackFirst(
                        run_code=part.run_code,
                        sku_code=line.sku_code,
                        sku_name=line.sku_name,
                        colour_hex=line.colour_hex,
                        spools=part.spools + (before.spools if before else 0),
                        stage=part.stage,
                        stage_at=part.stage_at,
                    )
    return sorted(rows.values(), key=lambda row: (row.stage != Stage.PACKING, row.run_code, row.sku_code))


def order_or_404(order_id: int) -> DueOrder:
    """Return an open order, or answer that there is none."""
    found = due_order(order_id)
    if found is None:
        raise Http404(_nothing_left(order_id))
    return found


def _nothing_left(order_id: int) -> str:
    """Say it of the order by its name: who packs knows no number of the books, and a tab may have stayed open."""
    try:
        receipt = order_receipt(order_id)
    except UnknownOrderError as error:
        return in_words(error)
    return _("Nothing of order %(reference)s of %(channel)s waits to be shipped any more.") % {
        "reference": receipt.reference,
        "channel": receipt.channel,
    }


def _show(request: HttpRequest, shown: DueOrder, *, fault: Fault | None = None, status: int = 200) -> HttpResponse:
    return page(
        request,
        "planner/due_order.html",
        status=status,
        title=_("Order %(reference)s") % {"reference": shown.reference},
        order=shown,
        typed=request.POST,
        fault=fault,
        may_ship=may(request.user, Scope.SHIP),
    )
