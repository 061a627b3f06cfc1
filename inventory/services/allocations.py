"""The working set of promises: locked supply, and changes of allocations written in a fixed number of queries.

Lock order of the whole service: Order row, then ShelfStock rows by SKU id, then RunOutput rows by id. The
ShelfStock row of a SKU is the mutex of everything that is promised of it: quantities, shipments and allocations
of its order lines change only under its lock.

A row of Allocation never changes its quantity: it ends, and another one begins. So every past instant can be read.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import F, Q

from inventory.models import Allocation, Order, OrderLine, PromiseChange, RunOutput, ShelfStock
from inventory.rules.allocation import SHELF, Source, SourceKey, Turn, first_quote
from inventory.rules.clock import Clock
from inventory.services.outbox import tell_promises_moved


@dataclass
class LockedSupply:
    """What the SKUs have on the shelf and awaited from runs, locked until the transaction ends."""

    shelf: dict[int, ShelfStock]
    outputs: dict[int, RunOutput]
    by_sku: dict[int, list[RunOutput]]

    def sources(self, sku_id: int, *, today: date) -> list[Source]:
        """What is free of one SKU, the shelf included."""
        shelf = Source(key=SHELF, ready_day=today, free_spools=self.shelf[sku_id].free)
        return [shelf] + [
            Source(key=output.pk, ready_day=max(today, output.shelf_day), free_spools=output.awaited - output.allocated)
            for output in self.by_sku.get(sku_id, [])
        ]

    def take(self, sku_id: int, key: SourceKey, spools: int) -> None:
        """Count spools of a source as promised; fewer than none gives them back."""
        row = self.shelf[sku_id] if key is None else self.outputs[key]
        row.allocated += spools


def lock_supply(*, sku_ids: Iterable[int], clock: Clock) -> LockedSupply:
    """Lock the shelf rows of the SKUs by id, then their awaited run outputs by id. Two queries.

    Call it before anything that changes `on_shelf`, `awaited` or `allocated` of several SKUs in one transaction:
    taking the rows in any other order can deadlock with an order that is being placed.
    """
    wanted = sorted(set(sku_ids))
    supply = lock_shelf(sku_ids=wanted, clock=clock)
    lock_outputs(supply, sku_ids=wanted)
    return supply


def lock_shelf(*, sku_ids: Iterable[int], clock: Clock) -> LockedSupply:
    """Lock the shelf rows of the SKUs by id, written first where an SKU has none yet. One query, three then."""
    wanted = sorted(set(sku_ids))
    shelf = _locked_shelf_rows(wanted)
    if missing := [sku_id for sku_id in wanted if sku_id not in shelf]:
        rows = [ShelfStock(sku_id=sku_id, changed_at=clock.known_at) for sku_id in missing]
        ShelfStock.objects.bulk_create(rows, ignore_conflicts=True)
        shelf = _locked_shelf_rows(wanted)
    return LockedSupply(shelf=shelf, outputs={}, by_sku={})


def lock_outputs(supply: LockedSupply, *, sku_ids: Iterable[int]) -> None:
    """Add the awaited run outputs of SKUs whose shelf rows are locked, locked by id. One query."""
    rows = RunOutput.objects.filter(sku_id__in=list(sku_ids)).filter(Q(awaited__gt=0) | Q(allocated__gt=0))
    for row in rows.select_related("run").order_by("id").select_for_update(of=("self",)):
        supply.outputs[row.pk] = row
        supply.by_sku.setdefault(row.sku_id, []).append(row)


def _locked_shelf_rows(sku_ids: Sequence[int]) -> dict[int, ShelfStock]:
    rows = ShelfStock.objects.filter(sku_id__in=sku_ids).order_by("sku_id").select_for_update()
    return {row.sku_id: row for row in rows}


@dataclass
class OpenLine:
    """An order line with the live allocations that cover it."""

    line: OrderLine
    live: dict[SourceKey, Allocation] = field(default_factory=dict)

    @property
    def held(self) -> dict[SourceKey, int]:
        return {key: row.quantity for key, row in self.live.items()}

    @property
    def uncovered_spools(self) -> int:
        return self.line.quantity - self.line.shipped - sum(self.held.values())

    @property
    def turn(self) -> Turn:
        order = self.line.order
        return Turn(due_day=order.due_day, received_at=order.received_at, line_id=self.line.pk)


def open_lines(condition: Q) -> dict[int, OpenLine]:
    """Unshipped lines of open orders that meet the condition, with their live allocations. Two queries.

    Read them under the lock of their SKUs, else they may be out of date when they are used.
    """
    is_open = Q(order__state=Order.State.OPEN, order__is_history=False, quantity__gt=F("shipped"))
    return with_live(OrderLine.objects.filter(condition & is_open).select_related("order", "sku").order_by("id"))


def with_live(rows: Iterable[OrderLine]) -> dict[int, OpenLine]:
    """The lines by id with their live allocations. One query and that of the rows."""
    lines = {line.pk: OpenLine(line=line) for line in rows}
    for allocation in Allocation.objects.filter(end="", order_line_id__in=list(lines)).order_by("id"):
        lines[allocation.order_line_id].live[allocation.run_output_id] = allocation
    return lines


class AllocationChanges:
    """Changes of allocations and of promised days, gathered in memory and written at once by `write`."""

    def __init__(self, supply: LockedSupply, clock: Clock) -> None:
        self._supply = supply
        self._clock = clock
        self._ended: dict[str, list[int]] = defaultdict(list)
        self._begun: list[Allocation] = []
        self._shelf: set[int] = set()
        self._outputs: set[int] = set()
        self._lines: dict[int, OrderLine] = {}
        self._promises: list[PromiseChange] = []

    def hold(self, open_line: OpenLine, key: SourceKey, spools: int, *, end: str) -> None:
        """Let the line hold `spools` of the source; what it held before ends as `end`."""
        before = open_line.live.pop(key, None)
        if before is not None and before.quantity == spools:
            open_line.live[key] = before
            return
        self._count(open_line.line.sku_id, key, spools - (before.quantity if before else 0))
        if before is not None:
            self._end(before, end)
        if spools > 0:
            open_line.live[key] = self._begin(open_line.line, key, spools)

    def take(self, open_line: OpenLine, takes: Mapping[SourceKey, int]) -> None:
        """Let the line hold exactly `takes`; what it no longer needs is given back first."""
        for key in [key for key in open_line.live if key not in takes]:
            self.hold(open_line, key, 0, end=Allocation.End.REPLACED)
        for key, spools in takes.items():
            self.hold(open_line, key, spools, end=Allocation.End.REPLACED)

    def promise(self, open_line: OpenLine, day: date | None, *, cause: str) -> None:
        """Set the promised day of a line and note the change for sales."""
        line = open_line.line
        if line.promised_day == day:
            return
        self._promises.append(
            PromiseChange(
                order_line_id=line.pk,
                old_day=line.promised_day,
                new_day=day,
                cause=cause,
                occurred_at=self._clock.occurred_at,
                known_at=self._clock.known_at,
            )
        )
        set_promised_day(line, day)
        self._lines[line.pk] = line

    def touch(self, sku_ids: Iterable[int]) -> None:
        """Mark SKUs whose supply changed, for readers that ask what changed since."""
        self._shelf.update(sku_ids)

    def write(self) -> list[PromiseChange]:
        """Write everything gathered. At most twelve queries, whatever the number of lines."""
        for end, ids in self._ended.items():
            Allocation.objects.filter(pk__in=ids).update(
                end=end, ended_at=self._clock.occurred_at, ended_known_at=self._clock.known_at
            )
        Allocation.objects.bulk_create(self._begun)
        self._write_counts()
        if self._lines:
            OrderLine.objects.bulk_update(self._lines.values(), ["promised_day", "quoted_day"])
        written = PromiseChange.objects.bulk_create(self._promises)
        tell_promises_moved(written, clock=self._clock)
        return written

    def _write_counts(self) -> None:
        shelf = [self._supply.shelf[sku_id] for sku_id in sorted(self._shelf)]
        for row in shelf:
            row.changed_at = max(row.changed_at, self._clock.known_at)
        # An upsert of rows that are there and locked: of one statement each, Django builds it in a quarter of the time
        # of a bulk_update, and every order pays for it.
        ShelfStock.objects.bulk_create(
            shelf, update_conflicts=True, unique_fields=["sku"], update_fields=["allocated", "changed_at"]
        )
        if self._outputs:
            RunOutput.objects.bulk_update([self._supply.outputs[pk] for pk in sorted(self._outputs)], ["allocated"])

    def _count(self, sku_id: int, key: SourceKey, delta: int) -> None:
        self._shelf.add(sku_id)
        self._supply.take(sku_id, key, delta)
        if key is not None:
            self._outputs.add(key)

    def _begin(self, line: OrderLine, key: SourceKey, spools: int) -> Allocation:
        allocation = Allocation(
            order_line=line,
            run_output_id=key,
            quantity=spools,
            created_at=self._clock.occurred_at,
            created_known_at=self._clock.known_at,
        )
        self._begun.append(allocation)
        return allocation

    def _end(self, allocation: Allocation, end: str) -> None:
        if allocation.pk is None:
            # Begun and ended within one change: it never was.
            self._begun.remove(allocation)
        else:
            self._ended[end].append(allocation.pk)


def set_promised_day(line: OrderLine, day: date | None) -> None:
    """Set the promised day; the first day ever promised on a made-to-order line is the day it was quoted."""
    line.promised_day = day
    if line.quoted_day is None:
        line.quoted_day = first_quote(day, is_stocked=line.sku.is_stocked)
