"""What the shelf is worth, how long it lasts at the demand of late, and what does not move."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Max, Sum

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
    """Return every SKU with spools on the shelf, the most valuable stock first. Three queries."""
    stocks = ShelfStock.objects.filter(on_shelf__gt=0).select_related(
        "sku__item", "sku__filament__colour", "sku__filament__material"
    )
    asked = OrderLine.objects.filter(
        order__kind__in=REGULAR_KINDS, quantity__gt=0, order__due_day__gt=today - timedelta(days=SLOW_DAYS)
    ).order_by()
    recent = asked.filter(order__due_day__gt=today - timedelta(days=RECENT_DAYS), order__due_day__lte=today)
    spools = dict(recent.values_list("sku_id").annotate(Sum("quantity")))
    last_days = dict(asked.values_list("sku_id").annotate(Max("order__due_day")))
    rows = [
        StockValueRow(
            sku_code=stock.sku.item.code,
            sku_name=stock.sku.item.name,
            colour_hex=stock.sku.filament.colour.hex,
            material_name=stock.sku.filament.material.name,
            on_shelf=stock.on_shelf,
            value=stock.on_shelf * stock.sku.value,
            recent_spools=spools.get(stock.sku_id, 0),
            last_due_day=last_days.get(stock.sku_id),
        )
        for stock in stocks
    ]
    return sorted(rows, key=lambda row: (-row.value, row.sku_code))
