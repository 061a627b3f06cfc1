"""What another order of runs comes to, beside the present one: runs that differ, ship days that move, misses, purge."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from inventory.models import OrderLine, PromiseChange
from stockplan.planner.core.misses_price import MissesPrice
from stockplan.planner.core.run_order import Orders, Waiting
from stockplan.planner.core.timed_order import TimedOrder
from stockplan.planner.selectors.line_orders import LineOrders, LineRun


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
class RunOrder(MissesPrice):
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
    def becoming_late(self) -> int:
        """Order lines that were to ship on their due day, and will not any more."""
        return sum(promise.becomes_late for promise in self.promises)


def differing_runs(orders: LineOrders, order: Orders, before: TimedOrder, after: TimedOrder) -> Iterator[OrderedRun]:
    """Return the runs of which line, place or times differ, by line and place."""
    runs = {run.key: run for run in orders.runs}
    for line, keys in sorted(order.items()):
        for place, key in enumerate(keys, start=1):
            run = runs[key]
            start_before = _start(before, key, run)
            found = _ordered_run(run.waiting(), line, place, run, after, start_before=start_before)
            is_there = (found.line, found.place) == (run.line_code, run.place)
            if not is_there or not _is_same_minute(found.start, start_before):
                yield found


def _is_same_minute(start: datetime | None, before: datetime | None) -> bool:
    """The floor counts whole minutes from now; what merely stands by another second has not moved."""
    if start is None or before is None:
        return start is before
    return abs(start - before) < timedelta(minutes=1)


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


def moved_promises(changes: Sequence[PromiseChange]) -> Iterator[MovedPromise]:
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
