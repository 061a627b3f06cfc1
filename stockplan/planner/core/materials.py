"""Resin, concentrate, spools, boxes and desiccant of a run against what the store holds."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from stockplan.planner.core.facts import StoreItem
from stockplan.planner.core.plant import Plant


@dataclass(frozen=True)
class Missing:
    """Material that a run lacks, and the day by which it must be bought to be here in time."""

    item: str
    name: str
    unit: str
    quantity: float
    buy_by: date


@dataclass
class StoreBoard:
    """What is left of each item; an item that is not on the board is not kept in the books and limits nothing."""

    left: dict[str, float]

    def copy(self) -> StoreBoard:
        """Return a board that can be written on without changing this one."""
        return StoreBoard(dict(self.left))

    def take(self, needs: Mapping[str, float]) -> None:
        """Take the needs of a run off the board."""
        for item, quantity in needs.items():
            if item in self.left:
                self.left[item] -= quantity

    def affordable(
        self, plant: Plant, line: str, holds: str | None, filament: str, spools: Sequence[int]
    ) -> tuple[int, ...]:
        """Return the largest lot up to `spools` that the store allows, all sizes that share an item cut alike.

        The purge of the changeover comes first; where it takes all there is, nothing is left to wind.
        """
        lot = list(spools)
        for item, users in plant.part_users[filament]:
            if item in self.left and sum(lot[at] for at in users) > max(self.left[item], 0.0):
                for at, n in zip(users, _cut_to([lot[at] for at in users], self.left[item]), strict=True):
                    lot[at] = n
        share = self._mass_share(plant, line, holds, filament, tuple(lot))
        return tuple(lot) if share >= 1 else tuple(int(n * share + 1e-9) for n in lot)

    def short_of(self, needs: Mapping[str, float]) -> dict[str, float]:
        """Return by how much each need is above what is left."""
        return {i: q - max(self.left[i], 0.0) for i, q in needs.items() if i in self.left and q > self.left[i] + 1e-9}

    def _mass_share(self, plant: Plant, line: str, holds: str | None, filament: str, spools: tuple[int, ...]) -> float:
        """Return the share of the wound mass that resin and concentrate allow after the purge."""
        full = mass_needs(plant, line, holds, filament, spools)
        if all(need <= self.left.get(item, math.inf) for item, need in full.items()):
            return 1.0
        purge = mass_needs(plant, line, holds, filament, [0] * len(spools))
        shares = [
            (self.left[i] - purge[i]) / (full[i] - purge[i]) for i in full if i in self.left and full[i] > purge[i]
        ]
        return max(min(shares, default=1.0), 0.0)


def mass_needs(plant: Plant, line: str, holds: str | None, filament: str, spools: Sequence[int]) -> dict[str, float]:
    """Return the kilograms of resin and concentrate that a run eats, by item."""
    masses = plant.masses(line, holds, filament, spools)
    needs = {plant.material_of[filament].resin_item: masses.resin_kg}
    concentrate = plant.filaments[filament].concentrate_item
    if concentrate is not None:
        needs[concentrate] = masses.concentrate_kg
    return needs


def needs_of(plant: Plant, line: str, holds: str | None, filament: str, spools: Sequence[int]) -> dict[str, float]:
    """Return everything that a run takes from the store, by item: kilograms and pieces."""
    needs = Counter(mass_needs(plant, line, holds, filament, spools))
    pieces = {item: sum(spools[at] for at in users) for item, users in plant.part_users[filament]}
    needs.update({item: n for item, n in pieces.items() if n})
    return dict(needs)


def missing_of(
    short: Mapping[str, float], *, store: Mapping[str, StoreItem], first_day: date, needed_on: date
) -> tuple[Missing, ...]:
    """Name what is short; an item is bought its lead time before the day on which it is needed, or today."""
    return tuple(
        Missing(
            item=code,
            name=store[code].name,
            unit=store[code].unit,
            quantity=quantity,
            buy_by=max(needed_on - timedelta(days=store[code].lead_time_days), first_day),
        )
        for code, quantity in sorted(short.items())
    )


def _cut_to(spools: Sequence[int], pieces: float) -> list[int]:
    """Cut spools evenly so that together they take no more than the whole pieces that are left."""
    total, left = sum(spools), max(int(pieces + 1e-9), 0)
    # Rounding the running sums keeps every whole piece in use.
    reached = [cumulated * left // total for cumulated in itertools.accumulate(spools, initial=0)]
    return [after - before for before, after in itertools.pairwise(reached)]
