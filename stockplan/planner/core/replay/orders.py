"""Orders of a replay: what is known of them at an instant, and who is served from the shelf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

import numpy as np

from stockplan.planner.core.replay.records import Count
from stockplan.planner.core.shortage import Ints


@dataclass(frozen=True)
class ReplayOrder:
    """An order as it was received. `is_counted` is False for own use and where a line is made to order."""

    code: int
    received_at: datetime
    due_day: date
    may_part_ship: bool
    is_counted: bool


@dataclass(frozen=True)
class LineChange:
    """Units by which an order's line of a SKU changed, and when the books learned of it."""

    known_at: datetime
    order: int
    sku: str
    delta: int


@dataclass(frozen=True)
class OrderHistory:
    """All orders of a stretch of history and their changes, in the order in which they became known."""

    orders: Mapping[int, ReplayOrder]
    changes: tuple[LineChange, ...]

    def __post_init__(self) -> None:
        if any(a.known_at > b.known_at for a, b in zip(self.changes, self.changes[1:], strict=False)):
            raise ValueError("changes of orders must be in the order in which they became known")


@dataclass
class OrderDesk:
    """Open orders, written on as they become known and ship.

    Parameters
    ----------
    wanted
        Units by order and SKU as they stand; shipped lines stay with what was wanted.
    left
        Units not yet shipped; orders of which nothing is left are not in it.
    """

    history: OrderHistory
    wanted: dict[int, dict[str, int]] = field(default_factory=dict)
    left: dict[int, dict[str, int]] = field(default_factory=dict)
    known: int = 0

    def learn(self, until: datetime) -> None:
        """Take in every change that was known by an instant."""
        changes = self.history.changes
        while self.known < len(changes) and changes[self.known].known_at <= until:
            self._apply(changes[self.known])
            self.known += 1

    def ship(self, day: date, shelf: dict[str, int]) -> None:
        """Ship at the pick-up of a ship day: first due first served, then first received.

        An order that may not ship in parts leaves only complete; until then it keeps what it found on the shelf.
        """
        free = dict(shelf)
        for code in self._in_turn(day):
            order, lines = self.history.orders[code], self.left[code]
            found = {sku: min(units, free.get(sku, 0)) for sku, units in lines.items()}
            for sku, units in found.items():
                free[sku] = free.get(sku, 0) - units
            if order.may_part_ship or found == lines:
                self._leave(code, found, shelf)

    def counted(self, day: date) -> tuple[Count, Count, Count]:
        """Return orders, lines and units due on a day and how many of them have shipped complete by now."""
        due = [c for c, order in self.history.orders.items() if order.due_day == day and order.is_counted]
        wanted = {code: lines for code in due if (lines := self.wanted.get(code))}
        left = {code: self.left.get(code, {}) for code in wanted}
        lines_due = [(units, left[code].get(sku, 0)) for code, lines in wanted.items() for sku, units in lines.items()]
        return (
            Count(len(wanted), sum(not left[code] for code in wanted)),
            Count(len(lines_due), sum(not open_units for _, open_units in lines_due)),
            Count(sum(units for units, _ in lines_due), sum(units - open_units for units, open_units in lines_due)),
        )

    def open_units(self, skus: Sequence[str], days: Sequence[date]) -> tuple[Ints, Ints]:
        """Return late units (S,) and units due by each day (S, T), cumulated; late is due before the first day."""
        index = {sku: i for i, sku in enumerate(skus)}
        late, due = np.zeros(len(skus), np.int64), np.zeros((len(skus), len(days) + 1), np.int64)
        axis = np.array(days, dtype="datetime64[D]")
        for code, lines in self.left.items():
            day = self.history.orders[code].due_day
            column = int(np.searchsorted(axis, np.datetime64(day)))
            for sku, units in lines.items():
                if day < days[0]:
                    late[index[sku]] += units
                else:
                    due[index[sku], column] += units
        return late, due[:, :-1].cumsum(axis=1)

    def late_orders(self, day: date) -> int:
        """Return the orders that were due on or before a day and have not left."""
        return sum(self.history.orders[code].due_day <= day for code in self.left)

    def _in_turn(self, day: date) -> list[int]:
        orders = self.history.orders
        due = [code for code in self.left if orders[code].due_day <= day]
        return sorted(due, key=lambda code: (orders[code].due_day, orders[code].received_at, code))

    def _leave(self, code: int, found: Mapping[str, int], shelf: dict[str, int]) -> None:
        for sku, units in found.items():
            shelf[sku] = shelf.get(sku, 0) - units
            self._reduce(self.left, code, sku, units)

    def _apply(self, change: LineChange) -> None:
        shipped = self.wanted.get(change.order, {}).get(change.sku, 0) - self.left.get(change.order, {}).get(
            change.sku, 0
        )
        wanted = max(self.wanted.get(change.order, {}).get(change.sku, 0) + change.delta, shipped)
        for table, units in ((self.wanted, wanted), (self.left, wanted - shipped)):
            table.setdefault(change.order, {})[change.sku] = units
            self._reduce(table, change.order, change.sku, 0)

    @staticmethod
    def _reduce(table: dict[int, dict[str, int]], code: int, sku: str, units: int) -> None:
        """Take units off a line; lines and orders of which nothing is left go."""
        table[code][sku] -= units
        if not table[code][sku]:
            del table[code][sku]
        if not table[code]:
            del table[code]
