"""The newest advice on what to buy."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from stockplan.planner.core.purchasing import Purchase
from stockplan.planner.models import PurchaseAdvice


@dataclass(frozen=True)
class Advice:
    """What to buy, by the day until which to buy it, as it was computed from what the books knew then."""

    computed_at: datetime
    purchases: tuple[Purchase, ...]

    @property
    def days(self) -> list[tuple[date, list[Purchase]]]:
        """Purchases of each day."""
        return [(day, list(rows)) for day, rows in groupby(self.purchases, key=lambda purchase: purchase.buy_by)]


def newest_advice() -> Advice | None:
    """Return the newest advice, None where none was computed yet. One query."""
    row = PurchaseAdvice.objects.first()
    return None if row is None else Advice(row.computed_at, by_day(Purchase.of_json(values) for values in row.rows))


def by_day(purchases: Iterable[Purchase]) -> tuple[Purchase, ...]:
    """Put purchases in the order of the days until which to buy them, those of a day by item."""
    return tuple(sorted(purchases, key=lambda purchase: (purchase.buy_by, purchase.item)))
