"""What a replayed day, week or stretch came to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from datetime import date
from typing import Any, Self


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

    @property
    def counts(self) -> tuple[Count, Count, Count]:
        """Orders, lines and units."""
        return self.orders, self.lines, self.units

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


@dataclass(frozen=True)
class ReplayRow:
    """A week of a replay, its total, or a point of an exchange curve, as `label` says."""

    label: str
    totals: ReplayTotals

    def as_json(self) -> dict[str, Any]:
        """Return the row in plain values; `of_json` reads them."""
        days = {"first_day": self.totals.first_day.isoformat(), "last_day": self.totals.last_day.isoformat()}
        return {"label": self.label, **asdict(self.totals), **days}

    @classmethod
    def of_json(cls, row: dict[str, Any]) -> Self:
        """Return the row of plain values."""
        read: dict[str, Any] = {name: Count(**row[name]) for name in ("orders", "lines", "units")}
        read |= {name: date.fromisoformat(row[name]) for name in ("first_day", "last_day")}
        read |= {name: row[name] for name in ("mean_stock_value", "mean_stock_units", "late_orders")}
        return cls(row["label"], ReplayTotals(**read, use=LineUse(**row["use"])))


def by_week(records: Iterable[DayRecord]) -> list[ReplayTotals]:
    """Return the totals of each ISO week."""
    weeks: dict[tuple[int, int], list[DayRecord]] = {}
    for record in records:
        year, week, _ = record.day.isocalendar()
        weeks.setdefault((year, week), []).append(record)
    return [ReplayTotals.of(days) for days in weeks.values()]
