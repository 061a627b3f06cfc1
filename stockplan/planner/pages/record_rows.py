"""Rows of the tables of one record, which `?code=` or `?order=` names, for CSV."""

from __future__ import annotations

from collections.abc import Iterator

from django.http import Http404, HttpRequest

from inventory.order_errors import UnknownOrderError
from inventory.selectors.orders import order_receipt
from inventory.selectors.quality import run_quality
from inventory.selectors.run_rows import RunNotFoundError
from stockplan.planner.pages.typed import whole_number
from stockplan.planner.selectors.filaments import FilamentNotFoundError, filament_detail

Row = tuple[object, ...]

SIZES = ("sku", "name", "net_g", "on_shelf", "free", "is_stocked")
PROMISES = ("reference", "line", "sku", "spools", "shipped", "from_shelf", "from_runs", "unpromised", "ships_on")
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
    order = whole_number(request.GET.get("order", ""))
    if order is None:
        raise Http404("Name the order by its number: ?order=12.")
    try:
        receipt = order_receipt(order)
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
