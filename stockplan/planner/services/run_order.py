"""Put the runs that wait for a line into another order: tried first with its price, then set.

Released runs get a new plan and their orders new promises; runs of the list become pins to places, which the next
list respects. Both stand or fall in one transaction.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser
from django.db import transaction

from inventory.models import PromiseChange, Run
from inventory.rules.clock import Clock
from inventory.services.run_order import RunReplan, replan_runs
from inventory.services.transactions import in_one_transaction
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.run_order import Move, moved, order_of
from stockplan.planner.core.timed_order import TimedOrder, timed_anew, timed_order
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import MakeList
from stockplan.planner.selectors.facts import calendar_around
from stockplan.planner.selectors.line_orders import LineOrders, line_orders
from stockplan.planner.services.forecasts import MOST_LIST_DAYS, compute_forecast
from stockplan.planner.services.make_lists import DEFAULT_DAYS
from stockplan.planner.services.place_pins import Places, check_forbidden, pin_to_places, places_to_pin
from stockplan.planner.services.run_order_price import LineOrder, RunOrder, differing_runs, moved_promises

CAUSE = "the order of the runs on its line was changed"


class OrderMovedError(PlanningError):
    """What stands on the lines is no longer what was seen."""

    code = "order_moved"


def try_order(moves: Sequence[Move], *, now: datetime, seen: str | None = None) -> RunOrder:
    """Say what an order of runs would cost. Everything is written as if it were set, and taken back.

    Raises
    ------
    RunOrderError, OrderMovedError
        As `set_order` does.
    """
    return _order(moves, clock=Clock.at(now), seen=seen, is_set=False, by=None)


def set_order(moves: Sequence[Move], *, seen: str, clock: Clock, by: AbstractBaseUser | None = None) -> RunOrder:
    """Set the order of runs. The present order changes nothing.

    Parameters
    ----------
    seen
        Of the order that was tried.

    Raises
    ------
    RunOrderError
        If a move cannot be made; its pointer says which.
    OrderMovedError
        If something has moved since the order was tried: nothing is written.
    """
    return _order(moves, clock=clock, seen=seen, is_set=True, by=by)


def _order(
    moves: Sequence[Move], *, clock: Clock, seen: str | None, is_set: bool, by: AbstractBaseUser | None
) -> RunOrder:
    orders = line_orders()
    _check_seen(orders, seen)
    order = moved(orders.waiting, moves, started=orders.started)
    pinned = places_to_pin(orders, order)
    check_forbidden(orders, pinned)
    facts = _facts(orders, now=clock.occurred_at)
    before = timed_order(facts, orders.waiting, order_of(orders.waiting), loose=())
    after = timed_anew(facts, orders.waiting, order)
    changes = _write(orders, pinned, after, clock=clock, is_set=is_set, by=by)
    return RunOrder(
        as_of=facts.as_of,
        is_set=is_set,
        seen=orders.seen,
        lines=tuple(LineOrder(line, keys) for line, keys in sorted(order.items()) if keys),
        runs=tuple(differing_runs(orders, order, before, after)),
        promises=tuple(moved_promises(changes)),
        misses_before=before.misses,
        misses_after=after.misses,
        changeover_min_before=before.changeover_min,
        changeover_min_after=after.changeover_min,
        purge_kg_before=before.purge_kg,
        purge_kg_after=after.purge_kg,
    )


def _check_seen(orders: LineOrders, seen: str | None) -> None:
    if seen is not None and orders.seen != seen:
        raise OrderMovedError(
            "A run was released, started, moved or listed anew since you looked; nothing was changed. Look again."
        )


def _facts(orders: LineOrders, *, now: datetime) -> PlanFacts:
    """Return the facts as of now, for the days that the newest list has left, and as many as a list has at least."""
    calendar = calendar_around(now)
    first = calendar.first_ship_day(now)
    left = len(calendar.ship_days(first, orders.last_day)) if orders.last_day and orders.last_day >= first else 0
    return compute_forecast(as_of=now, now=now, days=min(max(left, DEFAULT_DAYS), MOST_LIST_DAYS)).facts()


@in_one_transaction
def _write(
    orders: LineOrders,
    pinned: Places,
    after: TimedOrder,
    *,
    clock: Clock,
    is_set: bool,
    by: AbstractBaseUser | None,
) -> tuple[PromiseChange, ...]:
    """Write plans, promises and pins, if nothing has moved meanwhile; take all of it back unless it is to be set."""
    if orders.make_list_id is not None:
        # Who releases a run of the list waits for this row.
        MakeList.objects.select_for_update().get(pk=orders.make_list_id)
    list(Run.objects.select_for_update().filter(code__in=after.loose).order_by("code"))
    _check_seen(line_orders(), orders.seen)
    plans = [_replan(after, key) for key in sorted(after.loose)]
    changes = replan_runs(plans, clock=clock, cause=CAUSE) if plans else ()
    pin_to_places(orders, pinned, clock=clock, by=by)
    if not is_set:
        transaction.set_rollback(True)
    return changes


def _replan(after: TimedOrder, key: str) -> RunReplan:
    run, clock = after.runs[key], after.plant.clock
    timing = run.timing
    return RunReplan(
        run_code=key,
        line_code=run.line,
        planned_start=clock.instant(timing.start_min),
        planned_end=clock.instant(timing.end_min),
        hopper_code=timing.charge.hopper if timing.charge else None,
        drying_from=None if run.dries_from_min is None else clock.instant(run.dries_from_min),
        changeover_from_code=timing.changeover_from,
        changeover_min=Decimal(timing.changeover_min),
        planned_purge_kg=Decimal(str(round(after.purge_of(key), 3))),
    )
