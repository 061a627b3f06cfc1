"""Rows of the owner's tables, for CSV."""

from __future__ import annotations

from collections.abc import Iterator

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext

from inventory.selectors.plant import parameters
from inventory.selectors.service_weeks import service_history
from inventory.selectors.stock_value import stock_value
from stockplan.planner.pages.owner import WEEKS as SHOWN_WEEKS
from stockplan.planner.pages.owner import first_monday, stops_from, stops_of, wanted_misses
from stockplan.planner.pages.table_rows import at_minute
from stockplan.planner.selectors.line_load import line_loads
from stockplan.planner.selectors.list_pages import purchase_days
from stockplan.planner.selectors.shelf_advice import newest_shelf_advice

Row = tuple[object, ...]

WEEKS = (
    "week_from", "orders_complete", "orders_due", "lines_complete", "lines_due", "spools_in_time", "spools_due",
)  # fmt: skip
MISSES = ("day", "channel", "reference", "line", "sku", "wanted", "in_time", "made_to_order", "reason", "sentence")
SHELF = (
    "sku", "name", "on_shelf", "value", "due_last_90_days", "lasts_days", "last_due_day", "is_slow", "is_dead",
    "currency",
)  # fmt: skip
LINE_HOURS = ("line", "runs", "winding_h", "changeover_h", "changeover_share", "purge_kg")
STOPS = ("line", "run", "filament", "stopped_at", "went_on_at", "hours", "reason", "reason_in_words", "note")
SHELF_WORTH = (
    "sku", "is_stocked", "deserves_shelf", "earns_per_year", "holding_cost_per_year", "mean_stock",
    "runs_saved_per_year", "runs_saved_cost_per_year", "order_days_per_year", "break_even_order_days", "currency",
)  # fmt: skip
TO_BUY = ("buy_by", "item", "name", "quantity", "unit", "runs")


def weeks(_request: HttpRequest) -> Iterator[Row]:
    """Shares of the promise by week."""
    monday = first_monday(timezone.localdate())
    for week in service_history(first_monday=monday, weeks=SHOWN_WEEKS, as_of=timezone.now()).weeks:
        yield (week.monday, *(number for share in week.shares for number in (share.complete, share.due)))


def misses(request: HttpRequest) -> Iterator[Row]:
    """Missed lines, those that the page's own words ask for."""
    for miss in wanted_misses(request):
        line = (miss.day, miss.channel, miss.reference, miss.line_no, miss.sku_code, miss.wanted, miss.in_time)
        yield (*line, miss.is_made_to_order, miss.reason.value, gettext(miss.sentence))


def shelf(_request: HttpRequest) -> Iterator[Row]:
    """What lies on the shelf by SKU."""
    currency = parameters().currency
    for row in stock_value(today=timezone.localdate()):
        lasts = "" if row.lasts_days is None else round(row.lasts_days)
        figures = (row.on_shelf, row.value, row.recent_spools, lasts, row.last_due_day or "")
        yield (row.sku_code, row.sku_name, *figures, row.is_slow, row.is_dead, currency)


def line_hours(_request: HttpRequest) -> Iterator[Row]:
    """Hours of each line under the newest list."""
    for row in line_loads():
        hours = (round(row.winding_h, 2), round(row.changeover_h, 2), round(row.changeover_share, 4))
        yield (row.line_code, row.runs, *hours, round(row.purge_kg, 3))


def stops(_request: HttpRequest) -> Iterator[Row]:
    """Stops of the lines within the weeks shown."""
    now = timezone.now()
    for stop in stops_of(now):
        hours = round(stop.hours(first=stops_from(now), until=now), 3)
        times = (at_minute(stop.stopped_at), at_minute(stop.went_on_at), hours)
        yield (stop.line_code, stop.run_code, stop.filament_code, *times, stop.reason, stop.reason_label, stop.note)


def to_buy(_request: HttpRequest) -> Iterator[Row]:
    """What blocked runs of the newest list lack, by the day until which to buy it."""
    for row in purchase_days():
        yield row.day, row.item_code, row.name, round(row.quantity, 3), row.unit, row.runs


def shelf_worth(_request: HttpRequest) -> Iterator[Row]:
    """What the shelf space of each SKU is worth, as it was last computed."""
    advice, currency = newest_shelf_advice(), parameters().currency
    for row in advice.rows if advice else ():
        money = (round(row.earns, 2), round(row.holding_cost, 2), round(row.mean_stock, 2))
        runs = (round(row.runs_saved, 2), round(row.runs_saved_cost, 2), round(row.order_days_per_year, 1))
        even = "" if row.break_even_order_days is None else round(row.break_even_order_days, 1)
        yield (row.sku, row.is_stocked, row.deserves_shelf, *money, *runs, even, currency)
