"""Pick list and packing slip as PDF."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.selectors.due import next_pick_up
from stockplan.paper.documents import Document
from stockplan.planner.pages.due import order_or_404, picks_of
from stockplan.planner.pages.paper import pdf_answer
from stockplan.planner.pages.site import working_page
from stockplan.planner.templatetags.planner_pages import clock, day, moment


@require_safe
@working_page("inventory.view_shipment")
def pick_list(_request: HttpRequest) -> HttpResponse:
    """Give what to take from the shelf for the orders that are ready, by shelf place."""
    pick_up = next_pick_up(now=timezone.now())
    rows = [
        (pick.shelf_place or "-", str(pick.spools), pick.sku_name, pick.sku_code, str(pick.orders), "")
        for pick in picks_of(pick_up.ready)
    ]
    return pdf_answer(
        Document(
            title=_("Pick list for %(day)s, pick-up %(at)s")
            % {"day": day(pick_up.ship_day), "at": clock(pick_up.pick_up_at)},
            notes=[
                _("Orders that are ready: %(n)d. Printed %(at)s.")
                % {"n": len(pick_up.ready), "at": moment(timezone.now())}
            ],
            heads=(_("Place"), _("Spools"), _("Name"), _("SKU"), _("Orders"), _("Taken")),
            rows=rows,
            widths_mm=(20, 16, 64, 44, 16, 20),
        ),
        name="pick-list",
    )


@require_safe
@working_page("inventory.view_shipment")
def packing_slip(_request: HttpRequest, order_id: int) -> HttpResponse:
    """Give what is open of an order, by shelf place, to pack by and to put into the parcel."""
    order = order_or_404(order_id)
    lines = sorted(order.lines, key=lambda line: (line.shelf_place, line.line_no))
    return pdf_answer(
        Document(
            title=_("Packing slip: order %(reference)s of %(channel)s")
            % {"reference": order.reference, "channel": order.channel},
            notes=[
                _("Ship to: %(place)s.") % {"place": order.ship_to or _("as the channel says")},
                _("Due %(day)s.") % {"day": day(order.due_day)},
                _("It may leave in parts.") if order.may_part_ship else _("It leaves whole or not at all."),
            ],
            heads=(_("Place"), _("Name"), _("SKU"), _("Open"), _("On the shelf"), _("Packed")),
            rows=[
                (
                    line.shelf_place or "-",
                    line.sku_name,
                    line.sku_code,
                    str(line.open_spools),
                    str(line.on_shelf),
                    "",
                )
                for line in lines
            ],
            widths_mm=(20, 64, 44, 14, 22, 16),
            bars=order.reference,
        ),
        name=f"packing-slip-{order_id}",
    )
