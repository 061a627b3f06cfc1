"""The owner's page: is the promise kept, why not, and what the shelf ties up. Every table goes out as CSV."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.rules.service import Miss
from inventory.selectors.service import service_report
from inventory.selectors.service_weeks import service_history
from inventory.selectors.skus import sku_cards
from inventory.selectors.stock_value import StockValueRow, stock_value
from stockplan.planner.pages.csv_table import csv_answer
from stockplan.planner.pages.pictures import service_picture
from stockplan.planner.pages.site import page, page_by_route, working_page
from stockplan.planner.selectors.line_load import line_loads

WEEKS = 8
ROWS_SHOWN = 15
# Only the owner changes these; the page is for whoever answers for the plant.
SEES = "inventory.change_plantparameters"


@dataclass(frozen=True)
class SkuMisses:
    """What was missed of one SKU in the weeks shown."""

    sku_code: str
    lines: int
    spools: int


@require_safe
@working_page(SEES)
def owner(request: HttpRequest) -> HttpResponse:
    """Show the promise of the last weeks, misses by reason and SKU, and the stock."""
    now, today = timezone.now(), timezone.localdate()
    history = service_history(first_monday=_first_monday(today), weeks=WEEKS, as_of=now)
    stock = stock_value(today=today)
    by_sku = misses_by_sku(history.report.misses)
    return page(
        request,
        "planner/owner.html",
        about=page_by_route("pages:owner"),
        weeks=history.weeks,
        service=service_picture(history.weeks),
        report=history.report,
        by_sku=by_sku[:ROWS_SHOWN],
        cards=sku_cards([row.sku_code for row in by_sku[:ROWS_SHOWN]]),
        skus_missed=len(by_sku),
        stock_value=sum((row.value for row in stock), Decimal(0)),
        stock_spools=sum(row.on_shelf for row in stock),
        lasts_days=lasts_days(stock),
        dead=[row for row in stock if row.is_dead][:ROWS_SHOWN],
        slow=[row for row in stock if row.is_slow][:ROWS_SHOWN],
        loads=line_loads(),
    )


@require_safe
@working_page(SEES)
def table(request: HttpRequest, name: str) -> HttpResponse:
    """Give one table of the page with all its rows as CSV."""
    make = _TABLES.get(name)
    if make is None:
        raise Http404(f"There is no table {name} at {request.path}.")
    heads, rows = make(timezone.localdate(), timezone.now())
    return csv_answer(name, heads, rows)


def misses_by_sku(misses: Iterable[Miss]) -> list[SkuMisses]:
    """Return what was missed by SKU, the most spools first."""
    lines: defaultdict[str, int] = defaultdict(int)
    spools: defaultdict[str, int] = defaultdict(int)
    for miss in misses:
        lines[miss.sku_code] += 1
        spools[miss.sku_code] += miss.missed
    rows = [SkuMisses(code, lines[code], spools[code]) for code in lines]
    return sorted(rows, key=lambda row: (-row.spools, row.sku_code))


def lasts_days(rows: Sequence[StockValueRow]) -> float | None:
    """Return how many calendar days the whole shelf lasts by value at the demand of late, None without any.

    By value: what of the stock is worth a day of demand.
    """
    per_day = sum(float(row.value) / row.lasts_days for row in rows if row.lasts_days)
    return float(sum(row.value for row in rows)) / per_day if per_day else None


def _first_monday(today: date) -> date:
    return today - timedelta(days=today.weekday(), weeks=WEEKS - 1)


_Table = tuple[tuple[str, ...], Iterable[tuple[object, ...]]]


def _weeks_table(today: date, now: datetime) -> _Table:
    history = service_history(first_monday=_first_monday(today), weeks=WEEKS, as_of=now)
    counts = ("orders_complete", "orders_due", "lines_complete", "lines_due", "spools_in_time", "spools_due")
    rows = [
        (week.monday, *(number for share in week.shares for number in (share.complete, share.due)))
        for week in history.weeks
    ]
    return ("week_from", *counts), rows


def _misses_table(today: date, now: datetime) -> _Table:
    report = service_report(first=_first_monday(today), last=today, as_of=now)
    rows = [
        (miss.day, miss.channel, miss.reference, miss.line_no, miss.sku_code, miss.wanted, miss.in_time, miss.sentence)
        for miss in report.misses
    ]
    return ("day", "channel", "reference", "line", "sku", "wanted", "in_time", "reason"), rows


def _stock_table(today: date, _now: datetime) -> _Table:
    heads = ("sku", "name", "on_shelf", "value", "due_last_90_days", "lasts_days", "last_due_day", "is_slow", "is_dead")
    return heads, [_stock_row(row) for row in stock_value(today=today)]


def _stock_row(row: StockValueRow) -> tuple[object, ...]:
    lasts = "" if row.lasts_days is None else round(row.lasts_days)
    figures = (row.on_shelf, row.value, row.recent_spools, lasts, row.last_due_day or "")
    return (row.sku_code, row.sku_name, *figures, row.is_slow, row.is_dead)


_TABLES: Mapping[str, Callable[[date, datetime], _Table]] = {
    "weeks": _weeks_table,
    "misses": _misses_table,
    "stock": _stock_table,
}
