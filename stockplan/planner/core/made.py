"""A list as chosen, before it is put into words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stockplan.planner.core.floor import Floor, Lot, TimedRun
from stockplan.planner.core.opening import Opening
from stockplan.planner.core.ranking import RankedRun, all_misses, day_weights, ranked
from stockplan.planner.core.selection import Rules
from stockplan.planner.core.sequence import joined, lay_out, sequences_of
from stockplan.planner.core.shortage import Ints
from stockplan.planner.core.supply import SupplyState, supply_state


@dataclass(frozen=True)
class Made:
    """What the choice ended with: supply before and with the runs, and the floor with the runs on it."""

    opening: Opening
    before: SupplyState
    state: SupplyState
    floor: Floor
    rules: Rules
    runs: tuple[TimedRun, ...]

    @property
    def misses(self) -> float:
        """Misses with the list."""
        return self.misses_of(self.state.supply)

    @property
    def misses_on_its_days(self) -> float:
        """Misses with the list up to its last day: those that the totals do not discount."""
        weights = np.where(day_weights(self.floor.plant) < 1, 0.0, 1.0)
        return float(all_misses(self.before.tables, self.state.supply, weights=weights).sum())

    def misses_of(self, supply: Ints) -> float:
        """Return the misses of all SKUs with a supply (S, T)."""
        return float(all_misses(self.before.tables, supply, weights=day_weights(self.floor.plant)).sum())

    def ranked(self) -> tuple[RankedRun, ...]:
        """Return the runs by worth."""
        plant = self.floor.plant
        return ranked(plant, self.before.tables, self.opening.supply, self.runs, weights=day_weights(plant))

    def laid_out(self, sequences: Mapping[str, Sequence[Lot]]) -> Made:
        """Return the list with these lots on the lines instead."""
        plant, floor = self.floor.plant, self.opening.floor.copy()
        state = supply_state(plant, self.opening, tables=self.before.tables)
        return replace(self, floor=floor, state=state, runs=tuple(lay_out(floor, state, sequences)))

    def followed_by(self, sequences: Mapping[str, Sequence[Lot]]) -> Made:
        """Return the list with these lots on the lines behind its runs, which stay as they are timed."""
        floor, state = self.floor.copy(), self.state.copy()
        return replace(self, floor=floor, state=state, runs=(*self.runs, *lay_out(floor, state, sequences)))

    def joined(self) -> Made:
        """Return the same lots with neighbours of one filament made one run, unless that misses more.

        All lots are timed anew then, and one that comes earlier may take the hopper of another.
        """
        lots = joined(self.floor.plant, self.runs)
        if lots == sequences_of(self.runs):
            return self
        one = self.laid_out(lots)
        return one if one.misses <= self.misses else self
