"""Rows of the tables of one record, which `?code=` or `?order=` names, for CSV."""

from __future__ import annotations

from collections.abc import Iterator

from django.http import Http404, HttpRequest

from inventory.order_errors import UnknownOrderError
from inventory.selectors.due import due_order
from inventory.selectors.orders import order_receipt
from inventory.selectors.quality import run_quality
from inventory.selectors.run_rows import RunNotFoundError
from stockplan.planner.pages.carts import cart_or_404
from stockplan.planner.pages.table_rows import DUE, at_minute, due_rows
from stockplan.planner.pages.typed import whole_number
from stockplan.planner.selectors.filaments import FilamentNotFoundError, filament_detail
from stockplan.planner.selectors.run_card import RunNotKnownError, run_card

Row = tuple[object, ...]

SIZES = ("sku", "name", "net_g", "on_shelf", "free", "is_stocked")
PROMISES = ("reference", "line", "sku", "spools", "shipped", "from_shelf", "from_runs", "unpromised", "ships_on")
DUE_ORDER = DUE
CART = ("cart", "load", "oven", "dry_at", "is_out", "lot", "sku", "name", "spools")
CARD = ("run", "sku", "net_g", "target_g", "with_empty_spool_g", "length_m", "empty_spool", "spools")
STEPS = ("run", "step", "is_needed", "is_done", "at", "by")
SUBGROUPS = ("run", "subgroup", "mean_mm", "range_mm", "mean_is_out", "range_is_out")


def sizes(request: HttpRequest) -> Iterator[Row]:
    """Sizes of one filament."""
    try:
        found = filament_detail(request.GET.get("code", ""))
    except FilamentNotFoundError as error:
        raise Http404(str(error)) from error
    for size in found.sizes:
        yield (size.sku_code, size.name, size.net_g, size.on_shelf, size.free, size.is_stocked)


def promises(request: HttpRequest) -> Iterator[Row]:
    """Lines of one order as they are promised."""
    try:
        receipt = order_receipt(_order_number(request))
    except UnknownOrderError as error:
        raise Http404(str(error)) from error
    for line in receipt.lines:
        from_runs = " + ".join(f"{part.quantity} x {part.run_code}" for part in line.from_supply)
        spools = (line.quantity, line.shipped, line.from_shelf, from_runs, line.unpromised)
        yield (receipt.reference, line.line_no, line.sku_code, *spools, line.ship_day or "")


def subgroups(request: HttpRequest) -> Iterator[Row]:
    """Means and ranges of what was measured of one run."""
    try:
        found = run_quality(request.GET.get("code", ""))
    except RunNotFoundError as error:
        raise Http404(str(error)) from error
    chart = None if found.diameter is None else found.diameter.chart
    for number, point in enumerate(chart.points if chart else (), start=1):
        yield (found.run_code, number, point.mean_mm, point.range_mm, point.is_mean_out, point.is_range_out)


def due_lines(request: HttpRequest) -> Iterator[Row]:
    """Open lines of one order, as it is packed."""
    number = _order_number(request)
    found = due_order(number)
    if found is None:
        raise Http404(f"There is no open order {number}.")
    yield from due_rows(found)


def cart(request: HttpRequest) -> Iterator[Row]:
    """What stands on one cart."""
    found = cart_or_404(request.GET.get("code", ""))
    where = (found.code, found.load_code or "", found.oven_code or "", at_minute(found.ready_at), found.is_out)
    for row in found.rows:
        yield (*where, row.lot_code, row.sku_code, row.sku_name, row.spools)


def card(request: HttpRequest) -> Iterator[Row]:
    """Sizes to wind of one run."""
    try:
        found = run_card(request.GET.get("code", ""))
    except RunNotKnownError as error:
        raise Http404(str(error)) from error
    for size in found.sizes:
        grams = (size.net_g, size.target_g, size.gross_g)
        yield (found.run_code, size.sku_code, *grams, round(size.length_m, 1), size.spool_part, size.spools)


def steps(request: HttpRequest) -> Iterator[Row]:
    """Steps of the changeover of one run: each tick and each taking back, and those that nobody ticked."""
    try:
        found = run_card(request.GET.get("code", ""))
    except RunNotKnownError as error:
        raise Http404(str(error)) from error
    for row in found.steps:
        if not row.ticks:
            yield (found.run_code, row.step, row.is_needed, False, "", "")
        for tick in row.ticks:
            yield (found.run_code, row.step, row.is_needed, tick.is_done, at_minute(tick.occurred_at), tick.by)


def _order_number(request: HttpRequest) -> int:
    number = whole_number(request.GET.get("order", ""))
    if number is None:
        raise Http404("Name the order by its number: ?order=12.")
    return number
