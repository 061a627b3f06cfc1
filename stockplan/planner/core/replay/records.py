"""What a replayed day, week or stretch came to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date
from typing import Self


@dataclass(frozen=True)
class Count:
    """How many were due and how many of them shipped complete on their due day."""

    due: int = 0
    kept: int = 0

    @property
    def share(self) -> float | None:
        """Kept over due; None where nothing was due."""
        return self.kept / self.due if self.due else None

    def __add__(self, other: Count) -> Count:
        return Count(self.due + other.due, self.kept + other.kept)


@dataclass(frozen=True)
class LineUse:
    """Line minutes within shifts, and what was run and purged."""

    available_min: float = 0.0
    winding_min: float = 0.0
    changeover_min: float = 0.0
    purge_kg: float = 0.0
    runs: int = 0

    @property
    def idle_min(self) -> float:
        """Minutes of the shifts in which a line neither wound nor changed over."""
        return self.available_min - self.winding_min - self.changeover_min

    def __add__(self, other: LineUse) -> LineUse:
        return LineUse(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


@dataclass(frozen=True)
class DayRecord:
    """One ship day of a replay. Stock is what lies on the shelf after the pick-up."""

    day: date
    orders: Count
    lines: Count
    units: Count
    stock_value: float
    stock_units: int
    late_orders: int
    use: LineUse


@dataclass(frozen=True)
class ReplayTotals:
    """Several days together; stock is their mean, late orders those of the last day."""

    first_day: date
    last_day: date
    orders: Count
    lines: Count
    units: Count
    mean_stock_value: float
    mean_stock_units: float
    late_orders: int
    use: LineUse

    @classmethod
    def of(cls, records: Iterable[DayRecord]) -> Self:
        """Add up the records of some days, in order.

        Raises
        ------
        ValueError
            If there is no day.
        """
        days = list(records)
        if not days:
            raise ValueError("nothing to add up: no ship day")
        return cls(
            first_day=days[0].day,
            last_day=days[-1].day,
            orders=sum((d.orders for d in days), Count()),
            lines=sum((d.lines for d in days), Count()),
            units=sum((d.units for d in days), Count()),
            mean_stock_value=sum(d.stock_value for d in days) / len(days),
            mean_stock_units=sum(d.stock_units for d in days) / len(days),
            late_orders=days[-1].late_orders,
            use=sum((d.use for d in days), LineUse()),
        )


def by_week(records: Iterable[DayRecord]) -> list[ReplayTotals]:
    """Return the totals of each ISO week."""
    weeks: dict[tuple[int, int], list[DayRecord]] = {}
    for record in records:
        year, week, _ = record.day.isocalendar()
        weeks.setdefault((year, week), []).append(record)
    return [ReplayTotals.of(days) for days in weeks.values()]
