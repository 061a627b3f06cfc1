"""Supply as planned so far, and what further lots would avoid."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, field, replace

import numpy as np

from stockplan.planner.core.candidates import SpoolLadder, spool_ladder
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.opening import Opening
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.shortage import Floats, Ints, MissTable, miss_tables

LadderKey = tuple[int, tuple[int, ...], tuple[float, ...]]


@dataclass
class SupplyState:
    """Cumulated supply (S, T) with the runs added so far.

    `all_supply` counts supply of any day, `ladders` keeps what was looked up since a filament's supply last changed.
    """

    plant: Plant
    supply: Ints
    all_supply: Ints
    tables: tuple[MissTable, ...]
    look_ahead: Floats
    ladders: dict[str, dict[LadderKey, SpoolLadder]] = field(default_factory=dict)

    def copy(self) -> SupplyState:
        """Return a state that can be written on without changing this one."""
        return replace(self, supply=self.supply.copy(), all_supply=self.all_supply.copy(), ladders={})

    def most(self, sku: int, minute: int) -> int:
        """Return the spools that clear an SKU's backlog and lift it to its order-up-to level at a minute.

        Stock on hand and on its way, less open lines, less the demand expected to arrive until then.
        """
        facts = self.plant.facts.skus[sku]
        passed = bisect_right(self.plant.pick_ups, minute)
        expected = facts.mean[passed - 1] if passed else 0.0
        position = float(self.all_supply[sku]) - facts.late - facts.due[-1] - expected
        return max(math.ceil(facts.order_up_to - position - 1e-9), 0)

    def is_late(self, filament: str) -> bool:
        """Say whether late lines of a filament are not yet covered by supply of any day."""
        skus = self.plant.skus_of[filament]
        return any(self.plant.facts.skus[s].late > self.all_supply[s] for s in skus)

    def is_likely_out(self, sku: int, *, day: int, deviations: float) -> bool:
        """Say whether demand by a day, so many standard deviations above its mean, is more than the supply."""
        facts = self.plant.facts.skus[sku]
        demand = facts.late + facts.due[day] + facts.mean[day] + deviations * facts.variance[day] ** 0.5
        return bool(demand > self.supply[sku, day])

    def ladder(self, filament: str, *, day: int, most: tuple[int, ...], minutes: tuple[float, ...]) -> SpoolLadder:
        """Return the spools of a lot that arrives by a day, most worth per winding minute first.

        Parameters
        ----------
        most, minutes
            Spools at most, and winding minutes of one spool, of each SKU.
        """
        kept, key = self.ladders.setdefault(filament, {}), (day, most, minutes)
        if key not in kept:
            skus = zip(self.plant.skus_of[filament], most, strict=True)
            kept[key] = spool_ladder([self._misses_by_lot(s, day=day, most=n) for s, n in skus], minutes=minutes)
        return kept[key]

    def _misses_by_lot(self, sku: int, *, day: int, most: int) -> Floats:
        """Return the misses, discounted from `day` on, with lots of 0..most spools that arrive by that day."""
        weights = self.look_ahead[: max(len(self.plant.facts.days) - day, 0)]
        return self.tables[sku].by_lot(self.supply[sku], from_day=day, most=most, weights=weights)

    def add(self, run: TimedRun) -> None:
        """Write the supply that a run brings."""
        for sku, arrivals in zip(self.plant.skus_of[run.lot.filament], run.arrivals, strict=True):
            for arrival in arrivals:
                self.supply[sku, arrival.day :] += arrival.spools
                self.all_supply[sku] += arrival.spools
        self.ladders.pop(run.lot.filament, None)


def supply_state(plant: Plant, opening: Opening, *, tables: tuple[MissTable, ...] | None = None) -> SupplyState:
    """Return the supply before anything new is planned."""
    parameters, days = plant.facts.parameters, len(plant.facts.days)
    return SupplyState(
        plant=plant,
        supply=opening.supply.copy(),
        all_supply=opening.all_supply.copy(),
        tables=tables or miss_tables(opening.supply[:, 0], opening.demand, late_day_weight=parameters.late_day_weight),
        look_ahead=np.exp(-np.arange(days) / parameters.choice_days),
    )
