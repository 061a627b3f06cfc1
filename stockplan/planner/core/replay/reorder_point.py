"""The plain rule of the trade: a SKU at or below its reorder point is filled up to its level, the shortest first.

No look at changeovers, sequence or what the other lines do. Lines, drying, ovens and packing are those of the list.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forecasting.messages import Message, message
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import Floor, Lot, TimedRun
from stockplan.planner.core.opening import Opening, opening_of
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.selection import Decision, hopper_share, runs_in_turn, timed
from stockplan.planner.core.shortage import Floats, Ints

# A day's wait for the list that sees the level has been passed.
REVIEW_DAYS = 1.0


@dataclass(frozen=True)
class ReorderPointPolicy:
    """Reorder points and levels from the forecast of the morning.

    s = E[D(L + 1)] + k sd[D(L + 1)]; S = s + n ship days of mean demand. L is the lead time of the SKU, 1 the day
    until the next list sees that the point has been passed.

    Parameters
    ----------
    safety_factor
        k.
    lot_days
        n.
    stock_factor
        Both levels are multiplied by it.
    """

    safety_factor: float
    lot_days: float
    stock_factor: float = 1.0

    @property
    def words(self) -> Message:
        """What it does, for a reader of its results."""
        return message(
            "reorder points of mean + {safety:g} standard deviations over the lead time and a day, lots of {days:g} "
            "ship days above them, both x {factor:g}",
            safety=self.safety_factor,
            days=self.lot_days,
            factor=self.stock_factor,
        )

    def __call__(self, facts: PlanFacts, morning: MorningForecast) -> Sequence[TimedRun]:
        plant = plant_of(facts.in_order())
        opening = opening_of(plant)
        floor, shelf = opening.floor, _Shelf.of(opening, self, morning)
        return runs_in_turn(floor, lambda line, minute: _next_run(floor, shelf, line, minute))

    def levels(self, morning: MorningForecast) -> tuple[Ints, Ints]:
        """Return reorder points and order-up-to levels, each (S,)."""
        column = np.minimum(np.ceil(morning.lead_days + REVIEW_DAYS).astype(int), morning.mean.shape[1]) - 1
        rows = np.arange(len(column))
        mean, deviation = morning.mean[rows, column], np.sqrt(morning.variance[rows, column])
        point = self.stock_factor * (mean + self.safety_factor * deviation)
        level = point + self.stock_factor * self.lot_days * daily_mean(morning)
        return np.ceil(point - 1e-9).astype(np.int64), np.ceil(level - 1e-9).astype(np.int64)


# The six settings that the list is compared with: common practice, no source.
SIX_SETTINGS = tuple(
    ReorderPointPolicy(safety_factor=k, lot_days=n) for k, n in itertools.product((1.0, 2.0, 3.0), (5.0, 10.0))
)


def daily_mean(morning: MorningForecast) -> Floats:
    """Return the mean demand of a ship day, (S,)."""
    return np.asarray(morning.mean[:, -1] / morning.mean.shape[1])


@dataclass
class _Shelf:
    """Inventory position of every SKU, written on as lots are placed: shelf and supply on its way, less open lines."""

    position: Ints
    point: Ints
    level: Ints
    daily: Floats

    @classmethod
    def of(cls, opening: Opening, policy: ReorderPointPolicy, morning: MorningForecast) -> _Shelf:
        point, level = policy.levels(morning)
        position = opening.all_supply - opening.demand.late - opening.demand.due[:, -1]
        return cls(position, point, level, daily_mean(morning))

    def is_low(self, skus: Sequence[int]) -> bool:
        """Say whether some SKU is at or below its reorder point and below its level, or owes units."""
        return any(self.position[s] < 0 or self.position[s] <= self.point[s] < self.level[s] for s in skus)

    def cover_days(self, skus: Sequence[int]) -> float:
        """Return the ship days that the shortest of the SKUs lasts."""
        return min(float(self.position[s]) / max(float(self.daily[s]), 1e-9) for s in skus)

    def wanted(self, skus: Sequence[int]) -> tuple[int, ...]:
        """Return the spools that lift every SKU to its level, or to nothing owed."""
        return tuple(max(int(self.level[s]) - int(self.position[s]), 0) for s in skus)


def _next_run(floor: Floor, shelf: _Shelf, line: str, minute: int) -> TimedRun | None:
    """Place the filament with the shortest cover of those that are low; None if none is or can be made."""
    skus_of = floor.plant.skus_of
    low = [f for f in sorted(floor.plant.lines[line].rates) if shelf.is_low(skus_of[f])]
    for filament in sorted(low, key=lambda f: (shelf.cover_days(skus_of[f]), f)):
        decision = Decision(line, filament, minute)
        spools = hopper_share(floor, decision, shelf.wanted(skus_of[filament]))
        timing = timed(floor, Lot(filament, spools), decision) if any(spools) else None
        if timing is not None and timing.start_min < floor.plant.end_min:
            for sku, n in zip(skus_of[filament], spools, strict=True):
                shelf.position[sku] += n
            return floor.shelve(floor.place(Lot(filament, spools), line, timing))
    return None
