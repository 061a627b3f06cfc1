"""The tables of the working pages as CSV, with all their rows: what there is, and who may have it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from stockplan.planner.pages import count_rows, owner_tables, planning_rows, record_rows, table_rows, trace_rows
from stockplan.planner.pages.csv_table import csv_answer
from stockplan.planner.pages.owner import SEES as OWNER
from stockplan.planner.pages.site import working_page

Rows = Iterable[Sequence[object]]
PLANNER, FLOOR, FORECAST = "planner.view_makelist", "inventory.view_run", "planner.view_skuforecast"
LOT = "inventory.view_lot"


@dataclass(frozen=True)
class CsvTable:
    """A table: the permission that its page asks for, its heads, and what makes its rows of a request."""

    permission: str
    heads: tuple[str, ...]
    rows: Callable[[HttpRequest], Rows]


TABLES: Mapping[str, CsvTable] = {
    "stock": CsvTable("inventory.view_shelfstock", table_rows.STOCK, table_rows.stock),
    "due": CsvTable("inventory.view_shipment", table_rows.DUE, table_rows.due),
    "make-list": CsvTable(PLANNER, table_rows.RUNS, table_rows.make_list),
    "left-out": CsvTable(PLANNER, table_rows.LEFT_OUT, table_rows.left_out),
    "changes": CsvTable(PLANNER, planning_rows.CHANGES, planning_rows.changes),
    "purchases": CsvTable(PLANNER, planning_rows.PURCHASES, planning_rows.purchases),
    "learned": CsvTable(PLANNER, planning_rows.LEARNED, planning_rows.learned),
    "announced": CsvTable(FORECAST, planning_rows.ANNOUNCED, planning_rows.announced),
    "sizes": CsvTable(PLANNER, record_rows.SIZES, record_rows.sizes),
    "promises": CsvTable("inventory.view_order", record_rows.PROMISES, record_rows.promises),
    "due-order": CsvTable("inventory.view_shipment", record_rows.DUE_ORDER, record_rows.due_lines),
    "cart": CsvTable("inventory.view_ovenload", record_rows.CART, record_rows.cart),
    "run-card": CsvTable(FLOOR, record_rows.CARD, record_rows.card),
    "changeover-steps": CsvTable(FLOOR, record_rows.STEPS, record_rows.steps),
    "what-if": CsvTable(PLANNER, planning_rows.TRIED, planning_rows.tried),
    "subgroups": CsvTable(FLOOR, record_rows.SUBGROUPS, record_rows.subgroups),
    "forecast": CsvTable(FORECAST, table_rows.FORECAST, table_rows.forecast),
    "replays": CsvTable(PLANNER, table_rows.REPLAYS, table_rows.replays),
    "run-cards": CsvTable(FLOOR, table_rows.WAITING, table_rows.waiting),
    "stops": CsvTable(FLOOR, owner_tables.STOPS, owner_tables.stops),
    "ovens": CsvTable("inventory.view_ovenload", table_rows.FINISHING, table_rows.finishing),
    "store": CsvTable("inventory.view_ovenload", table_rows.REPORTS, table_rows.reports),
    "set-aside": CsvTable("inventory.view_ovenload", table_rows.SET_ASIDE, table_rows.set_aside),
    "next-counts": CsvTable("inventory.view_ovenload", count_rows.NEXT, count_rows.next_rows),
    "count-sheet": CsvTable("inventory.view_ovenload", count_rows.SHEET, count_rows.sheet_rows),
    "count-accuracy": CsvTable("inventory.view_ovenload", count_rows.ACCURACY, count_rows.accuracy_rows),
    "sku": CsvTable(FORECAST, table_rows.PROJECTION, table_rows.projection),
    "weeks": CsvTable(OWNER, owner_tables.WEEKS, owner_tables.weeks),
    "misses": CsvTable(OWNER, owner_tables.MISSES, owner_tables.misses),
    "shelf": CsvTable(OWNER, owner_tables.SHELF, owner_tables.shelf),
    "shelf-worth": CsvTable(OWNER, owner_tables.SHELF_WORTH, owner_tables.shelf_worth),
    "line-hours": CsvTable(OWNER, owner_tables.LINE_HOURS, owner_tables.line_hours),
    "trace-delivered": CsvTable(LOT, trace_rows.DELIVERED, trace_rows.delivered),
    "trace-places": CsvTable(LOT, trace_rows.PLACES, trace_rows.places),
    "trace-spools": CsvTable(LOT, trace_rows.SPOOLS, trace_rows.spools),
    "trace-materials": CsvTable(LOT, trace_rows.MATERIALS, trace_rows.materials),
    "to-buy": CsvTable(PLANNER, owner_tables.TO_BUY, owner_tables.to_buy),
}


@require_safe
def table(request: HttpRequest, name: str) -> HttpResponse:
    """Give one table with all its rows."""
    found = TABLES.get(name)
    if found is None:
        raise Http404(f"There is no table {name} at {request.path}.")
    return working_page(found.permission)(_answer)(request, name=name)


def _answer(request: HttpRequest, *, name: str) -> HttpResponse:
    return csv_answer(name, TABLES[name].heads, TABLES[name].rows(request))
