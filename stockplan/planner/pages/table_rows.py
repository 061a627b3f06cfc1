"""Rows of the tables of sales, planner, floor and packing, for CSV."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.http import Http404, HttpRequest
from django.utils import timezone

from inventory.selectors.due import DueOrder, next_pick_up
from inventory.selectors.finishing import finishing_board
from inventory.selectors.movement_rows import latest_reports
from inventory.selectors.plant import parameters
from inventory.selectors.set_aside import held_lots, waiting_returns
from inventory.selectors.stock import stock_rows
from stockplan.planner.selectors.forecast_health import forecast_health
from stockplan.planner.selectors.list_pages import MakeListHead, newest_list
from stockplan.planner.selectors.make_list_details import ListedRunDetail
from stockplan.planner.selectors.make_lists import (
    MakeListNotFoundError,
    listed_runs,
    not_listed,
    not_listed_details,
    run_details,
)
from stockplan.planner.selectors.projection import projected_stock
from stockplan.planner.selectors.stored_replays import past_replays
from stockplan.planner.selectors.waiting_runs import waiting_runs
from stockplan.planner.wording import said

Row = tuple[object, ...]
MOST_REPORTS = 5_000

STOCK = (
    "sku", "name", "gtin", "material", "colour", "diameter_mm", "net_g", "shelf_place", "on_shelf", "allocated",
    "free", "next_arrival", "order_now_ships_on",
)  # fmt: skip
DUE = (
    "due_day", "channel", "reference", "line", "sku", "shelf_place", "open", "on_shelf", "awaited", "not_planned",
    "order_is_ready",
)  # fmt: skip
RUNS = (
    "rank", "filament", "line", "place", "start", "end", "shelf_at", "changeover_from", "changeover_min", "run_min",
    "purge_kg", "spools", "sizes", "misses_avoided", "worth_per_hour", "runs_out_on", "is_blocked", "missing", "reason",
    "run", "state", "now_on_line", "now_from", "now_to",
)  # fmt: skip
LEFT_OUT = ("filament", "material", "colour", "diameter_mm", "cause", "sentence")
FORECAST = ("demand_class", "skus", "windows", "loss", "plain_method", "plain_loss", "gain_share")
REPLAYS = (
    "policy", "computed_at", "row", "first_day", "last_day", "orders_kept", "orders_due", "mean_shelf_value",
    "winding_min", "changeover_min", "purge_kg", "runs", "currency",
)  # fmt: skip
WAITING = ("line", "run", "state", "filament", "planned_start", "planned_end", "hopper", "drying_from", "sizes")
FINISHING = ("where", "lot", "run", "sku", "spools", "needed_by_orders", "first_due", "shelf_at", "dries_h")
REPORTS = ("occurred_at", "kind", "item", "lot", "quantity", "from", "to", "reason", "document")
SET_ASIDE = ("where", "lot", "item", "name", "quantity", "why")
PROJECTION = ("day", "reaches_the_shelf", "low_5", "low_25", "middle", "high_75", "high_95")


def stock(_request: HttpRequest) -> Iterator[Row]:
    """All SKUs, as the counter sees them."""
    for row in stock_rows(now=timezone.now()):
        spool = (row.sku_code, row.name, row.gtin or "", row.material, row.colour_name, row.diameter_mm, row.net_g)
        days = (row.next_arrival or "", row.order_now_ships_on or "")
        yield (*spool, row.shelf_place, row.on_shelf, row.allocated, row.free, *days)


def due(_request: HttpRequest) -> Iterator[Row]:
    """Open lines of the orders of the next pick-up."""
    for order in next_pick_up(now=timezone.now()).orders:
        yield from due_rows(order)


def due_rows(order: DueOrder) -> Iterator[Row]:
    """Open lines of one order."""
    for line in order.lines:
        awaited = sum(part.spools for part in line.awaited)
        named = (order.due_day, order.channel, order.reference, line.line_no, line.sku_code, line.shelf_place)
        yield (*named, line.open_spools, line.on_shelf, awaited, line.uncovered, order.is_ready)


def make_list(_request: HttpRequest) -> Iterator[Row]:
    """Runs of the newest list by rank, the blocked ones among them."""
    for run in run_details(listed_runs(newest_or_404().id)):
        yield _run(run)


def _run(run: ListedRunDetail) -> Row:
    sizes = " + ".join(f"{size.spools} x {size.sku_code}" for size in run.sizes)
    missing = " + ".join(f"{part.quantity:g} {part.unit} {part.item_code}" for part in run.missing)
    times = (at_minute(run.start), at_minute(run.end), at_minute(run.shelf_at))
    change = (run.changeover_from_code or "", round(run.changeover_min, 1), round(run.run_min, 1), run.purge_kg)
    worth = (round(run.misses_avoided, 2), round(run.worth_per_hour, 3), run.runs_out_on or "")
    place = (run.rank, run.filament_code, run.line_code or "", run.place_on_line or "")
    now = run.now
    floor = (run.run_code, run.run_state, now.line_code, at_minute(now.start), at_minute(now.end)) if now else ("",) * 5
    return (*place, *times, *change, run.spools, sizes, *worth, run.is_blocked, missing, said(run.reason), *floor)


def left_out(_request: HttpRequest) -> Iterator[Row]:
    """What the newest list leaves out, and why."""
    for row in not_listed_details(not_listed(newest_or_404().id)):
        yield row.filament_code, row.material_name, row.colour_name, row.diameter_mm, row.cause, said(row.sentence)


def forecast(_request: HttpRequest) -> Iterator[Row]:
    """Backtest of the newest forecast by class of demand."""
    health = forecast_health()
    for one in health.classes if health else ():
        plain = (one.plain_method, one.plain_loss, round(one.gain_share, 4))
        yield (one.demand_class, one.skus, one.windows, one.loss, *plain)


def replays(_request: HttpRequest) -> Iterator[Row]:
    """Rows of the replays that were computed of late."""
    currency = parameters().currency
    for replay in past_replays():
        for row in replay.rows:
            totals, use = row.totals, row.totals.use
            kept = (totals.orders.kept, totals.orders.due, round(totals.mean_stock_value, 2))
            spent = (round(use.winding_min), round(use.changeover_min), round(use.purge_kg, 3), use.runs)
            named = (replay.policy, at_minute(replay.computed_at), row.label, totals.first_day, totals.last_day)
            yield (*named, *kept, *spent, currency)


def waiting(_request: HttpRequest) -> Iterator[Row]:
    """Runs that are released or under way."""
    for line, runs in waiting_runs():
        for run in runs:
            sizes = " + ".join(f"{spools} x {net_g} g" for net_g, spools in run.sizes)
            times = (at_minute(run.planned_start), at_minute(run.planned_end))
            drying = (run.hopper_code or "", at_minute(run.drying_from))
            yield (line, run.code, run.state, run.filament_code, *times, *drying, sizes)


def finishing(_request: HttpRequest) -> Iterator[Row]:
    """Spools between line and shelf."""
    board = finishing_board()
    places = [("wound", board.wound), *((oven.code, oven.rows) for oven in board.ovens), ("to pack", board.bench)]
    for where, rows in places:
        for row in rows:
            lot = (where, row.lot_code, row.run_code or "", row.sku_code, row.spools, row.needed)
            yield (*lot, row.due_day or "", at_minute(row.shelf_at), row.dry_h)


def reports(_request: HttpRequest) -> Iterator[Row]:
    """What store and shelf reported last."""
    for movement in latest_reports(limit=MOST_REPORTS):
        for line in movement.lines:
            moved = (line.item_code, line.lot_code, line.quantity, line.from_place, line.to_place)
            yield (at_minute(movement.occurred_at), movement.kind, *moved, movement.reason, movement.document)


def set_aside(_request: HttpRequest) -> Iterator[Row]:
    """Spools that wait for inspection, and lots on hold."""
    for where, rows in (("returns", waiting_returns()), ("hold", held_lots())):
        for row in rows:
            yield (where, row.lot_code, row.item_code, row.item_name, row.quantity, row.why)


def projection(request: HttpRequest) -> Iterator[Row]:
    """Projected stock of the SKU that `?code=` names, day by day."""
    try:
        found = projected_stock(request.GET.get("code", ""), newest_or_404().id)
    except MakeListNotFoundError as error:
        raise Http404(str(error)) from error
    for row in found.rows:
        yield (row.day, row.supply, *row.quantiles)


def newest_or_404() -> MakeListHead:
    """Return the newest list, or answer that there is none."""
    try:
        return newest_list()
    except MakeListNotFoundError as error:
        raise Http404(str(error)) from error


def at_minute(instant: datetime | None) -> str:
    """Write an instant in the plant's zone, to the minute."""
    return "" if instant is None else timezone.localtime(instant).isoformat(timespec="minutes")
