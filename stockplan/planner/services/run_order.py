"""Put the runs that wait for a line into another order: tried first with its price, then set.

Released runs get a new plan and their orders new promises; runs of the list become pins to places, which the next
list respects. Both stand or fall in one transaction.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import takewhile

from django.contrib.auth.models import AbstractBaseUser
from django.db import transaction

from inventory.models import Filament, Line, OrderLine, PromiseChange, Run
from inventory.rules.clock import Clock
from inventory.services.run_order import RunReplan, replan_runs
from inventory.services.transactions import in_one_transaction
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.run_order import (
    Move,
    Orders,
    RunOrderError,
    TimedOrder,
    Waiting,
    loosened,
    moved,
    order_of,
    timed_order,
)
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import MakeList, PlannerInstruction
from stockplan.planner.selectors.facts import calendar_around
from stockplan.planner.selectors.line_orders import LineOrders, LineRun, line_orders
from stockplan.planner.services.forecasts import MOST_LIST_DAYS, compute_forecast
from stockplan.planner.services.make_lists import DEFAULT_DAYS

CAUSE = "the order of the runs on its line was changed"


class OrderMovedError(PlanningError):
    """What stands on the lines is no longer what was seen."""

    code = "order_moved"


@dataclass(frozen=True)
class OrderedRun:
    """A run whose line, place or times differ from the present ones; `place_before` and `start_before` are those.

    Times are None where it could only begin after the last day of the list.
    """

    key: str
    filament: str
    is_released: bool
    line: str
    place: int
    start: datetime | None
    end: datetime | None
    changeover_from: str | None
    changeover_min: int
    purge_kg: float
    hopper: str | None
    drying_from: datetime | None
    line_before: str
    place_before: int
    start_before: datetime | None

    @property
    def is_shifted(self) -> bool:
        """Say whether it merely begins at another time, and nothing hangs on it yet."""
        return (self.line, self.place) == (self.line_before, self.place_before) and not self.is_released


@dataclass(frozen=True)
class MovedPromise:
    """An order line whose ship day moves; a day is None where nothing covers it."""

    order: int
    reference: str
    sku: str
    due_day: date
    day_before: date | None
    day: date | None

    @property
    def is_earlier(self) -> bool:
        """Say whether it ships earlier than before."""
        return self.day is not None and (self.day_before is None or self.day < self.day_before)

    @property
    def becomes_late(self) -> bool:
        """Say whether it was to ship on its due day, and will not any more."""
        was = self.day_before is not None and self.day_before <= self.due_day
        return was and (self.day is None or self.day > self.due_day)


@dataclass(frozen=True)
class LineOrder:
    """The runs of a line that have not started, by key."""

    line: str
    runs: tuple[str, ...]


@dataclass(frozen=True)
class RunOrder:
    """An order of runs beside the present one: what it costs.

    Parameters
    ----------
    is_set
        It is written; else it was only tried.
    seen
        Stands for what the lines made when it was reckoned. Setting the order asks for it.
    misses, changeover_min, purge_kg
        Expected misses of the plant, minutes and purge of all changeovers of waiting runs, each before and after.
    """

    as_of: datetime
    is_set: bool
    seen: str
    lines: tuple[LineOrder, ...]
    runs: tuple[OrderedRun, ...]
    promises: tuple[MovedPromise, ...]
    misses_before: float
    misses_after: float
    changeover_min_before: int
    changeover_min_after: int
    purge_kg_before: float
    purge_kg_after: float

    @property
    def price(self) -> float:
        """Expected misses more than with the present order."""
        return self.misses_after - self.misses_before

    @property
    def gain(self) -> float:
        """Expected misses fewer than with the present order."""
        return -self.price

    @property
    def becoming_late(self) -> int:
        """Order lines that were to ship on their due day, and will not any more."""
        return sum(promise.becomes_late for promise in self.promises)


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
    _check_forbidden(orders, order)
    facts = _facts(orders, now=clock.occurred_at)
    loose = loosened(orders.waiting, order)
    before = timed_order(facts, orders.waiting, order_of(orders.waiting), loose=())
    after = timed_order(facts, orders.waiting, order, loose=loose)
    changes = _write(orders, order, after, loose=loose, clock=clock, is_set=is_set, by=by)
    return RunOrder(
        as_of=facts.as_of,
        is_set=is_set,
        seen=orders.seen,
        lines=tuple(LineOrder(line, keys) for line, keys in sorted(order.items()) if keys),
        runs=tuple(_differing(orders, order, before, after)),
        promises=tuple(_moved_promises(changes)),
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


def _check_forbidden(orders: LineOrders, order: Orders) -> None:
    """Refuse to pin a run whose filament was forbidden after the list was made."""
    forbidden = set(
        PlannerInstruction.objects.filter(withdrawn_at__isnull=True, kind=PlannerInstruction.Kind.FORBID).values_list(
            "filament__code", flat=True
        )
    )
    runs = {run.key: run for run in orders.waiting}
    for keys in _to_pin(orders, order).values():
        for key in keys:
            if runs[key].filament in forbidden:
                raise RunOrderError(f"{runs[key].filament} was forbidden since this list; compute a new one first.")


def _facts(orders: LineOrders, *, now: datetime) -> PlanFacts:
    """Return the facts as of now, for the days that the newest list has left, and as many as a list has at least."""
    calendar = calendar_around(now)
    first = calendar.first_ship_day(now)
    left = len(calendar.ship_days(first, orders.last_day)) if orders.last_day and orders.last_day >= first else 0
    return compute_forecast(as_of=now, now=now, days=min(max(left, DEFAULT_DAYS), MOST_LIST_DAYS)).facts()


@in_one_transaction
def _write(
    orders: LineOrders,
    order: Orders,
    after: TimedOrder,
    *,
    loose: set[str],
    clock: Clock,
    is_set: bool,
    by: AbstractBaseUser | None,
) -> tuple[PromiseChange, ...]:
    """Write plans, promises and pins, if nothing has moved meanwhile; take all of it back unless it is to be set."""
    if orders.make_list_id is not None:
        # Who releases a run of the list waits for this row.
        MakeList.objects.select_for_update().get(pk=orders.make_list_id)
    list(Run.objects.select_for_update().filter(code__in=loose).order_by("code"))
    _check_seen(line_orders(), orders.seen)
    plans = [_replan(after, key) for key in sorted(loose)]
    changes = replan_runs(plans, clock=clock, cause=CAUSE) if plans else ()
    _pin(orders, order, clock=clock, by=by)
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


def _to_pin(orders: LineOrders, order: Orders) -> dict[str, tuple[str, ...]]:
    """Return the runs that must be pinned to their places, by line, of the lines whose unreleased runs change order.

    Those up to the last one that changes its order, and up to the last one that is pinned already: what stands before
    a run decides on its place, what stands behind is the next list's choice.
    """
    released = {run.key for run in orders.waiting if run.is_released}
    present = {line: _listed(keys, released) for line, keys in order_of(orders.waiting).items()}
    found = {}
    for line in present.keys() | order.keys():
        was, now = present.get(line, ()), _listed(order.get(line, ()), released)
        if was != now:
            found[line] = now[: max(_last_changed(was, now), orders.placed_pins.get(line, 0))]
    return found


def _last_changed(was: Sequence[str], now: Sequence[str]) -> int:
    """Return the place of the last run that does not stand as before. To move up after one that left is to stand so."""
    same = len(list(takewhile(lambda pair: pair[0] == pair[1], zip(reversed(was), reversed(now), strict=False))))
    changed = now[: len(now) - same]
    return 0 if list(changed) == list(was[: len(changed)]) else len(changed)


def _listed(keys: Iterable[str], released: set[str]) -> tuple[str, ...]:
    return tuple(key for key in keys if key not in released)


def _pin(orders: LineOrders, order: Orders, *, clock: Clock, by: AbstractBaseUser | None) -> None:
    """Pin runs to their places on the lines whose unreleased runs change order; older pins of these lines end."""
    runs, pinned = {run.key: run for run in orders.waiting}, _to_pin(orders, order)
    live = PlannerInstruction.objects.filter(withdrawn_at__isnull=True, place__isnull=False, line__code__in=pinned)
    live.update(withdrawn_at=clock.known_at)
    line_ids = dict(Line.objects.filter(code__in=pinned).values_list("code", "pk"))
    filaments = {runs[key].filament for keys in pinned.values() for key in keys}
    filament_ids = dict(Filament.objects.filter(code__in=filaments).values_list("code", "pk"))
    PlannerInstruction.objects.bulk_create(
        PlannerInstruction(
            kind=PlannerInstruction.Kind.PIN,
            filament_id=filament_ids[runs[key].filament],
            line_id=line_ids[line],
            place=place,
            sizes=dict(runs[key].sizes),
            last_day=orders.last_day,
            created_at=clock.known_at,
            created_by_id=None if by is None else by.pk,
        )
        for line, keys in sorted(pinned.items())
        for place, key in enumerate(keys, start=1)
    )


def _differing(orders: LineOrders, order: Orders, before: TimedOrder, after: TimedOrder) -> Iterator[OrderedRun]:
    """Return the runs of which line, place or times differ, by line and place."""
    runs = {run.key: run for run in orders.runs}
    for line, keys in sorted(order.items()):
        for place, key in enumerate(keys, start=1):
            run = runs[key]
            start_before = _start(before, key, run)
            found = _ordered_run(run.waiting(), line, place, run, after, start_before=start_before)
            was = (run.line_code, run.place, start_before)
            if (found.line, found.place, found.start) != was:
                yield found


def _start(timed: TimedOrder, key: str, run: LineRun) -> datetime | None:
    """Return when a run begins: as the floor times it, or as it is planned."""
    if key in timed.runs:
        return timed.plant.clock.instant(timed.runs[key].timing.start_min)
    return run.start if run.rank is None else None


def _ordered_run(
    waiting: Waiting, line: str, place: int, run: LineRun, after: TimedOrder, *, start_before: datetime | None
) -> OrderedRun:
    timed, clock = after.runs.get(waiting.key), after.plant.clock
    is_planned = timed is None and waiting.is_released
    charge = timed.timing.charge if timed else None
    dries = timed.dries_from_min if timed else None
    return OrderedRun(
        key=waiting.key,
        filament=waiting.filament,
        is_released=waiting.is_released,
        line=line,
        place=place,
        start=clock.instant(timed.timing.start_min) if timed else run.start if is_planned else None,
        end=clock.instant(timed.timing.end_min) if timed else run.end if is_planned else None,
        changeover_from=timed.timing.changeover_from if timed else None,
        changeover_min=timed.timing.changeover_min if timed else 0,
        purge_kg=after.purge_of(waiting.key) if timed else 0.0,
        hopper=charge.hopper if charge else None,
        drying_from=None if dries is None else clock.instant(dries),
        line_before=run.line_code,
        place_before=run.place or 0,
        start_before=start_before,
    )


def _moved_promises(changes: Sequence[PromiseChange]) -> Iterator[MovedPromise]:
    """Return the order lines whose day moved, late ones first, then by due day."""
    lines = OrderLine.objects.select_related("order", "sku__item").in_bulk([c.order_line_id for c in changes])
    found = [
        MovedPromise(
            order=line.order_id,
            reference=line.order.reference,
            sku=line.sku.item.code,
            due_day=line.order.due_day,
            day_before=change.old_day,
            day=change.new_day,
        )
        for change in changes
        for line in [lines[change.order_line_id]]
    ]
    yield from sorted(found, key=lambda p: (not p.becomes_late, p.due_day, p.order, p.sku))
