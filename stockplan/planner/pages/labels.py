"""Labels as PDF: for the spools of a run, the carton of an order, the place of a SKU on the shelf."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.rules.gs1 import spool_elements
from inventory.selectors.labels import NothingToLabelError, SkuLabel, shelf_label, spool_labels
from inventory.wording import in_words
from stockplan.paper.labels import Label, LabelSize, label_pages, label_sheets
from stockplan.planner.pages.carts import cart_or_404
from stockplan.planner.pages.due import order_or_404
from stockplan.planner.pages.site import working_page
from stockplan.planner.pages.typed import TypedError, number_given, spools_given
from stockplan.planner.templatetags.planner_pages import avoirdupois, kilograms

Facts = TypeVar("Facts")
MOST_LABELS = 2_000


@require_safe
@working_page("inventory.view_run")
def spools(request: HttpRequest, run_code: str) -> HttpResponse:
    """Give one label for each spool of a run, of each size as many as typed."""
    facts = _found(lambda: spool_labels(run_code))

    def made() -> list[Label]:
        given = spools_given(request.GET, prefix="spools ", most={one.sku_code: MOST_LABELS for one in facts})
        wanted = [one for one in facts for _ in range(given.get(one.sku_code, 0))]
        return [_spool_label(one, run_code) for one in wanted]

    return _labels(request, made, name=run_code)


@require_safe
@working_page("inventory.view_shelfstock")
def shelf(request: HttpRequest, code: str) -> HttpResponse:
    """Give the label of the place where a SKU lies."""
    one = _found(lambda: shelf_label(code))
    lines = (one.shelf_place or _("no place stated"), _net(one.net_g), f"GTIN {one.gtin}" if one.gtin else "")
    return _labels(request, lambda: [Label(title=one.name, lines=lines, bars=one.sku_code)], name=code)


@require_safe
@working_page("inventory.view_shipment")
def carton(request: HttpRequest, order_id: int) -> HttpResponse:
    """Give the labels of an order's cartons, numbered, as many as typed."""
    order = order_or_404(order_id)

    def made() -> list[Label]:
        of = spools_given(request.GET, prefix="", most={"cartons": MOST_LABELS}).get("cartons", 1)
        title = f"{order.channel} {order.reference}"
        return [
            Label(
                title=title,
                lines=(order.ship_to, _("Carton %(n)d of %(of)d") % {"n": n, "of": of}),
                bars=order.reference,
            )
            for n in range(1, of + 1)
        ]

    return _labels(request, made, name=order.reference)


@require_safe
@working_page("inventory.view_ovenload")
def cart(request: HttpRequest, code: str) -> HttpResponse:
    """Give the label of a cart."""
    found = cart_or_404(code)
    return _labels(request, lambda: [Label(title=found.code, lines=(_("Cart"),), bars=found.code)], name=code)


def _spool_label(one: SkuLabel, run_code: str) -> Label:
    lines = [_net(one.net_g), _("Lot %(lot)s") % {"lot": run_code}, f"GTIN {one.gtin}" if one.gtin else _("no GTIN")]
    elements = spool_elements(gtin=one.gtin, lot=run_code, net_g=one.net_g) if one.gtin else ""
    return Label(title=one.name, lines=lines, bars=one.sku_code, elements=elements)


def _net(net_g: int) -> str:
    return _("net %(mass)s (%(avoirdupois)s)") % {"mass": kilograms(net_g), "avoirdupois": avoirdupois(net_g)}


def _labels(request: HttpRequest, made: Callable[[], list[Label]], *, name: str) -> HttpResponse:
    """Answer with a PDF, or say what of the address does not fit."""
    try:
        size = _size(request.GET)
        labels = made()
        if not labels:
            raise TypedError(_("no label is asked for."))
        draw = label_sheets if request.GET.get("on") == "sheet" else label_pages
        pdf = draw(labels, size=size)
    except ValueError as error:
        return HttpResponse(
            _("No label was made: %(why)s") % {"why": in_words(error)},
            status=422,
            content_type="text/plain; charset=utf-8",
        )
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="labels-{name.encode("ascii", "replace").decode()}.pdf"'},
    )


def _size(asked: Mapping[str, str]) -> LabelSize:
    width, height = number_given(asked, "width"), number_given(asked, "height")
    if width is None or height is None:
        raise TypedError(_("width and height of the label in mm are missing."))
    return LabelSize(width_mm=float(width), height_mm=float(height))


def _found(look_up: Callable[[], Facts]) -> Facts:
    try:
        return look_up()
    except NothingToLabelError as error:
        raise Http404(str(error)) from error
