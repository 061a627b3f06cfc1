"""Promises that follow the facts: supply that comes, slips, shrinks or fails re-promises its orders at once.

Every function here runs in the caller's transaction, so that the fact and its promises stand or fall together.
A promise stands: a line loses spools only when they are no longer there, and moves only to an earlier ship day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

from django.db import transaction
from django.db.models import Q

from inventory.models import Allocation, PromiseChange, RunOutput
from inventory.rules.allocation import SHELF, SourceKey, due_first, give_back_first, plan_line, take_in_order
from inventory.rules.calendar import PlantCalendar
from inventory.rules.clock import Clock
from inventory.selectors.plant import ship_calendar
from inventory.services.allocations import AllocationChanges, LockedSupply, OpenLine, lock_supply, open_lines

CAUSE_SUPPLY = "supply became free"


@transaction.atomic
def promise_waiting_lines(*, sku_ids: Iterable[int], clock: Clock, cause: str = CAUSE_SUPPLY) -> list[PromiseChange]:
    """Serve the open lines of the SKUs that wait for supply: first due first served, then first received.

    Call it after stock of the SKUs became free (packed, found, restocked, released, given back or planned) or the days
    of their supply moved. A line that is promised of a late supply moves to the shelf or to an earlier supply if one
    has become free.
    Locks the SKUs; about ten queries, whatever the number of lines.
    """
    wanted = list(sku_ids)
    supply = lock_supply(sku_ids=wanted, clock=clock)
    changes = AllocationChanges(supply, clock)
    changes.touch(wanted)
    replan_lines(supply, changes, open_lines(Q(sku_id__in=wanted)), clock=clock, cause=cause)
    return changes.write()


@transaction.atomic
def free_shelf_allocations(*, sku_id: int, must_free: int, clock: Clock, cause: str) -> list[PromiseChange]:
    """Take `must_free` allocated spools of the shelf from their lines and promise those lines anew from supply.

    Latest due day first, then latest received. Call it before `on_shelf` is lowered, so that the shelf never holds
    less than is allocated of it. Locks the SKU.
    """
    supply = lock_supply(sku_ids=[sku_id], clock=clock)
    changes = AllocationChanges(supply, clock)
    lines = open_lines(Q(sku_id=sku_id))
    _take_from(changes, lines, key=SHELF, spools=must_free, end=Allocation.End.TAKEN)
    # What is free now is about to leave the shelf with the rest: only supply is offered.
    replan_lines(supply, changes, lines, clock=clock, cause=cause, offer_shelf=False)
    return changes.write()


@transaction.atomic
def repromise_run_output(run_output: RunOutput, *, clock: Clock, cause: str) -> list[PromiseChange]:
    """Save a run output whose `awaited` or `shelf_day` the caller has changed, and keep its promises true.

    Pass the row with its new values, not yet saved: the table refuses fewer awaited than allocated. What is promised
    beyond `awaited` is taken from the latest due lines; lines whose day moves are noted for sales with the cause.
    Locks the SKU, then the run output.
    """
    supply = lock_supply(sku_ids=[run_output.sku_id], clock=clock)
    stored = supply.outputs.get(run_output.pk)
    run_output.allocated = stored.allocated if stored else 0
    supply.outputs[run_output.pk] = run_output
    others = [row for row in supply.by_sku.get(run_output.sku_id, []) if row.pk != run_output.pk]
    supply.by_sku[run_output.sku_id] = [*others, run_output]
    changes = AllocationChanges(supply, clock)
    changes.touch([run_output.sku_id])
    lines = open_lines(Q(sku_id=run_output.sku_id))
    excess = run_output.allocated - run_output.awaited
    _take_from(changes, lines, key=run_output.pk, spools=max(excess, 0), end=Allocation.End.TAKEN)
    replan_lines(supply, changes, lines, clock=clock, cause=cause)
    # The caller's own columns and the new count in one UPDATE: the check constraint sees both together.
    run_output.save()
    return changes.write()


@transaction.atomic
def shelve_allocations(run_output: RunOutput, *, quantity: int, clock: Clock) -> list[PromiseChange]:
    """Move the promises of `quantity` spools of a supply to the shelf that they have just reached, first due first.

    Call it after `on_shelf` has been raised and before `awaited` is lowered; `run_output.allocated` is up to date
    afterwards. Then serve what is left free with `promise_waiting_lines`. Locks the SKU, then the run output.
    """
    supply = lock_supply(sku_ids=[run_output.sku_id], clock=clock)
    changes = AllocationChanges(supply, clock)
    lines = open_lines(Q(sku_id=run_output.sku_id))
    holds = {pk: line.held[run_output.pk] for pk, line in lines.items() if run_output.pk in line.live}
    order = due_first({pk: lines[pk].turn for pk in holds})
    calendar = calendar_around(clock)
    today = calendar.first_ship_day(clock.occurred_at)
    for pk, spools in take_in_order(order=order, holds=holds, spools=quantity).items():
        line = lines[pk]
        changes.hold(line, run_output.pk, holds[pk] - spools, end=Allocation.End.SHELVED)
        changes.hold(line, SHELF, line.held.get(SHELF, 0) + spools, end=Allocation.End.REPLACED)
        promise_held(supply, changes, line, calendar=calendar, today=today, cause="supply reached the shelf")
    written = changes.write()
    run_output.allocated = supply.outputs[run_output.pk].allocated if run_output.pk in supply.outputs else 0
    return written


def replan_lines(
    supply: LockedSupply,
    changes: AllocationChanges,
    lines: Mapping[int, OpenLine],
    *,
    clock: Clock,
    cause: str,
    offer_shelf: bool = True,
) -> None:
    """Offer free spools to lines in the order of their due days; what a line holds of the shelf it keeps."""
    calendar = calendar_around(clock)
    today = calendar.first_ship_day(clock.occurred_at)
    for pk in due_first({pk: line.turn for pk, line in lines.items()}):
        plan_open_line(supply, changes, lines[pk], today=today, calendar=calendar, cause=cause, offer_shelf=offer_shelf)


def plan_open_line(
    supply: LockedSupply,
    changes: AllocationChanges,
    line: OpenLine,
    *,
    today: date,
    calendar: PlantCalendar,
    cause: str,
    offer_shelf: bool = True,
) -> None:
    """Cover one line by the earliest spools that are free or its own. Lines covered by the shelf stay as they are."""
    shelf_held = line.held.get(SHELF, 0)
    need_spools = line.line.quantity - line.line.shipped - shelf_held
    if need_spools == 0 and line.line.promised_day is not None:
        return
    sources = supply.sources(line.line.sku_id, today=today)
    plan = plan_line(
        need_spools=need_spools,
        not_before=earliest_day(line, calendar=calendar),
        sources=[source for source in sources if offer_shelf or source.key is not SHELF],
        held={key: spools for key, spools in line.held.items() if key is not SHELF},
    )
    takes = dict(plan.takes)
    if shelf_held:
        takes[SHELF] = takes.get(SHELF, 0) + shelf_held
    changes.take(line, takes)
    changes.promise(line, plan.promised_day, cause=cause)


def earliest_day(line: OpenLine, *, calendar: PlantCalendar) -> date:
    """The due day, or the later ship day that the customer has asked for since."""
    order = line.line.order
    if order.wanted_day is None or order.wanted_day <= order.due_day:
        return order.due_day
    return calendar.nth_ship_day_after(order.wanted_day, 0)


def calendar_around(clock: Clock) -> PlantCalendar:
    """The calendar of the days around a fact."""
    day = clock.occurred_at.date()
    return ship_calendar(first=day - timedelta(days=1), last=day + timedelta(days=60))


def _take_from(
    changes: AllocationChanges, lines: Mapping[int, OpenLine], *, key: SourceKey, spools: int, end: str
) -> None:
    holds = {pk: line.held[key] for pk, line in lines.items() if key in line.live}
    order = give_back_first({pk: lines[pk].turn for pk in holds})
    for pk, taken in take_in_order(order=order, holds=holds, spools=spools).items():
        changes.hold(lines[pk], key, holds[pk] - taken, end=end)


def promise_held(
    supply: LockedSupply,
    changes: AllocationChanges,
    line: OpenLine,
    *,
    today: date,
    calendar: PlantCalendar,
    cause: str,
) -> None:
    """Set the promised day of a line from what it holds."""
    ready = [today if key is None else max(today, supply.outputs[key].shelf_day) for key in line.live]
    day = max([earliest_day(line, calendar=calendar), *ready])
    changes.promise(line, None if line.uncovered_spools else day, cause=cause)
