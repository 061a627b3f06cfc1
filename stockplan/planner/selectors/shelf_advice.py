"""The newest advice on shelf space."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from stockplan.planner.core.shelf_worth import SkuAdvice
from stockplan.planner.models import ShelfAdvice


@dataclass(frozen=True)
class NewestShelfAdvice:
    """What the shelf space of each SKU is worth, those that cost most first, as it was computed."""

    computed_at: datetime
    rows: tuple[SkuAdvice, ...]

    @property
    def changes(self) -> tuple[SkuAdvice, ...]:
        """SKUs that are kept otherwise than advised."""
        return tuple(row for row in self.rows if row.is_change)


def newest_shelf_advice() -> NewestShelfAdvice | None:
    """Return the newest advice, None where none was computed yet. One query."""
    row = ShelfAdvice.objects.first()
    return None if row is None else NewestShelfAdvice(row.computed_at, tuple(map(SkuAdvice.of_json, row.rows)))
