"""What the shelf is worth, how long it lasts at the demand of late, and what does not move."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import F, Max, Q, Sum

from inventory.models import OrderLine, ShelfStock
from inventory.selectors.demand import REGULAR_KINDS

# Demand of so many calendar days gives the days that a stock lasts.
RECENT_DAYS = 90
# Common practice, no source: what lasts for longer than half a year is slow, what nobody asked for so long is dead.
SLOW_DAYS = 180


@dataclass(frozen=True)
class StockValueRow:
    """One SKU on the shelf. `recent_spools` were due within the last 90 days; `last_due_day` None: not within 180."""

    sku_code: str
    sku_name: str
    colour_hex: str
    material_name: str
    on_shelf: int
    value: Decimal
    recent_spools: int
    last_due_day: date | None

    @property
    def lasts_days(self) -> float | None:
        """Calendar days that the shelf lasts at the demand of late; None without any."""
        return RECENT_DAYS * self.on_shelf / self.recent_spools if self.recent_spools else None

    @property
    def is_dead(self) -> bool:
        """Nobody has asked for it for half a year."""
        return self.last_due_day is None

    @property
    def is_slow(self) -> bool:
        """It is asked for, but what lies there lasts for more than half a year."""
        return not self.is_dead and (self.lasts_days is None or self.lasts_days > SLOW_DAYS)


def stock_value(*, today: date) -> list[StockValueRow]:
    """Return every SKU with spools on the shelf, the most valuable stock first. Four queries."""
    demand, stocks = _demand(today), ShelfStock.objects.filter(on_shelf__gt=0)
    rows = [
        StockValueRow(code, name, colour, material, on_shelf, on_shelf * value, *demand.get(sku_id, (0, None)))
        for sku_id, value, on_shelf, code, name, colour, material in stocks.values_list(*_FIELDS)
    ]
    return sorted(rows, key=lambda row: (-row.value, row.sku_code))


def lasts_days(rows: Sequence[StockValueRow]) -> float | None:
    """Return how many calendar days the whole shelf lasts at the demand of late, None without any.

    Counted by value: what lies there over what is asked for in a day.
    """
    per_day = sum(float(row.value) / row.lasts_days for row in rows if row.lasts_days)
    return float(sum(row.value for row in rows)) / per_day if per_day else None


_FIELDS = (
    "sku_id",
    "sku__value",
    "on_shelf",
    "sku__item__code",
    "sku__item__name",
    "sku__filament__colour__hex",
    "sku__filament__material__name",
)


def _demand(today: date) -> dict[int, tuple[int, date]]:
    """Spools due of late and the last day due of each SKU that was asked for within half a year. Three queries.

    The last one looks further back, only for what the first did not find: most of the lines are spared.
    """
    asked = OrderLine.objects.filter(order__kind__in=REGULAR_KINDS, quantity__gt=0).order_by()
    of_late = asked.filter(order__due_day__gt=today - timedelta(days=RECENT_DAYS))
    spools = Sum("quantity", filter=Q(order__due_day__lte=today), default=0)
    # By an expression: for the bare key SQLite walks all lines ever by its index, instead of those of late.
    sums = of_late.values_list(F("sku_id") + 0).annotate(spools=spools, last_day=Max("order__due_day"))
    found = {sku_id: (spools, last_day) for sku_id, spools, last_day in sums}
    others = ShelfStock.objects.filter(on_shelf__gt=0).exclude(sku_id__in=found).values_list("sku_id", flat=True)
    before = asked.filter(sku_id__in=list(others), order__due_day__gt=today - timedelta(days=SLOW_DAYS))
    last_days = before.values_list("sku_id").annotate(last_day=Max("order__due_day"))
    return found | {sku_id: (0, last_day) for sku_id, last_day in last_days}
