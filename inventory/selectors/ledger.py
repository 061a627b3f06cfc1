"""The ledger read from its first line: sums per place and lot, and how they went below zero, if they did."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from typing import Literal

from inventory.models import Movement, MovementLine, Place

Key = tuple[int, int]
"""Place id, lot id."""


@dataclass(frozen=True)
class BelowZero:
    """A physical place that held less than nothing of a lot after a movement."""

    place_id: int
    lot_id: int
    instant: datetime
    quantity: Decimal


@dataclass(frozen=True)
class LedgerRead:
    """What the ledger says of every place and lot that a line ever touched."""

    sums: Mapping[Key, Decimal]
    below_zero: tuple[BelowZero, ...]


def books_opened_at() -> datetime | None:
    """Return when the books were opened with the stock of then, None where they began empty. One query."""
    first = Movement.objects.order_by("id").values_list("kind", "occurred_at").first()
    return first[1] if first is not None and first[0] == Movement.Kind.OPENING else None


def read_ledger(*, clock: Literal["occurred_at", "known_at"]) -> LedgerRead:
    """Add up all lines in the order of one clock. Two queries; memory grows with places x lots, not with lines."""
    physical = set(Place.objects.filter(is_physical=True).values_list("pk", flat=True))
    sums: dict[Key, Decimal] = defaultdict(Decimal)
    below: list[BelowZero] = []
    for instant, changes in _movements(clock):
        for key, delta in changes.items():
            sums[key] += delta
            if sums[key] < 0 and key[0] in physical:
                below.append(BelowZero(*key, instant=instant, quantity=sums[key]))
    return LedgerRead(sums=dict(sums), below_zero=tuple(below))


def _movements(clock: str) -> Iterator[tuple[datetime, dict[Key, Decimal]]]:
    """Each movement with its net changes: its lines take effect together."""
    lines = MovementLine.objects.order_by(f"movement__{clock}", "movement_id", "id").values_list(
        f"movement__{clock}", "movement_id", "from_place_id", "to_place_id", "lot_id", "quantity"
    )
    for (instant, _), group in groupby(lines.iterator(), key=lambda line: line[:2]):
        changes: dict[Key, Decimal] = defaultdict(Decimal)
        for _, _, source, target, lot_id, quantity in group:
            changes[(source, lot_id)] -= quantity
            changes[(target, lot_id)] += quantity
        yield instant, changes
