"""Lots in a given order on their lines, and neighbours of one filament on a line made one run."""

from __future__ import annotations

import heapq
import itertools
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from stockplan.planner.core.drying import largest_charge_kg
from stockplan.planner.core.floor import Floor, Lot, TimedRun
from stockplan.planner.core.materials import needs_of
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.selection import LOOK_AGAIN_MIN, Decision, place_lot
from stockplan.planner.core.supply import SupplyState

Sequences = Mapping[str, Sequence[Lot]]


def lay_out(floor: Floor, state: SupplyState, sequences: Sequences) -> list[TimedRun]:
    """Place lots in their order on each line, each as soon as it can be; the line that is free first comes first.

    A lot that could only start after the last day is left off, unless something of it is late.

    Parameters
    ----------
    floor, state
        Written on.
    sequences
        Lots by line.
    """
    runs = []
    heap = [(minute, line, 0) for line in sequences if (minute := floor.next_decision(line)) is not None]
    heapq.heapify(heap)
    while heap:
        minute, line, place = heapq.heappop(heap)
        if place == len(sequences[line]):
            continue
        lot = sequences[line][place]
        is_late = state.is_late(lot.filament)
        run = place_lot(floor, state, lot, Decision(line, lot.filament, minute), may_start_later=is_late)
        if run is not None:
            runs.append(run)
        again = floor.next_decision(line)
        if again is not None:
            heapq.heappush(heap, (again, line, place + 1))
    return runs


def sequences_of(runs: Sequence[TimedRun]) -> dict[str, list[Lot]]:
    """Return the lots of runs by line, in the order of their starts."""
    return {line: [run.lot for run in group] for line, group in _by_line(runs).items()}


def joined(plant: Plant, runs: Sequence[TimedRun]) -> dict[str, list[Lot]]:
    """Return the lots by line, those of one filament that follow each other at once made one lot.

    They stay two where the spools of the first would be on the shelf a day later, or where no hopper can dry the resin
    for both. What the planner pinned or sized stays as it is.
    """
    return {line: _joined_line(plant, line, group) for line, group in _by_line(runs).items()}


def affordable(floor: Floor, line: str, lots: Sequence[Lot]) -> list[Lot]:
    """Return lots that a line is to make next, cut to what a hopper can dry and the store holds after those before.

    Takes what they need off the floor's store.
    """
    plant, store, holds, kept = floor.plant, floor.store, floor.lines[line].holds, []
    for lot in lots:
        spools = store.affordable(plant, line, holds, lot.filament, _hopper_share(plant, line, holds, lot))
        if any(spools):
            store.take(needs_of(plant, line, holds, lot.filament, spools))
            kept.append(replace(lot, spools=spools))
            holds = lot.filament
    return kept


def _hopper_share(plant: Plant, line: str, holds: str | None, lot: Lot) -> tuple[int, ...]:
    """Cut a lot evenly to the largest hopper, which dries what is purged too."""
    limit = largest_charge_kg(plant.facts.hoppers)
    if limit is None or plant.material_of[lot.filament].resin_dry_h == 0:
        return lot.spools
    purged = plant.resin_kg(line, holds, lot.filament, [0] * len(lot.spools))
    wound = plant.resin_kg(line, holds, lot.filament, lot.spools) - purged
    share = max((limit - purged) / wound, 0.0)
    return lot.spools if share >= 1 else tuple(int(n * share + 1e-9) for n in lot.spools)


def _by_line(runs: Sequence[TimedRun]) -> dict[str, list[TimedRun]]:
    found: defaultdict[str, list[TimedRun]] = defaultdict(list)
    for run in sorted(runs, key=lambda r: (r.line, r.timing.start_min)):
        found[run.line].append(run)
    return dict(found)


def _joined_line(plant: Plant, line: str, runs: Sequence[TimedRun]) -> list[Lot]:
    found = [runs[0].lot]
    for before, run in itertools.pairwise(runs):
        one = _sum(found[-1], run.lot)
        idle_min = plant.line_spans[line].minutes(before.timing.end_min, run.timing.start_min)
        is_later = run.shelf_day > before.shelf_day
        if one is not None and not is_later and idle_min < LOOK_AGAIN_MIN and _can_dry(plant, line, one):
            found[-1] = one
        else:
            found.append(run.lot)
    return found


def _sum(first: Lot, second: Lot) -> Lot | None:
    if first.filament != second.filament or first.is_pinned or second.is_pinned:
        return None
    return replace(first, spools=tuple(a + b for a, b in zip(first.spools, second.spools, strict=True)))


def _can_dry(plant: Plant, line: str, lot: Lot) -> bool:
    limit = largest_charge_kg(plant.facts.hoppers)
    if limit is None or plant.material_of[lot.filament].resin_dry_h == 0:
        return True
    return plant.resin_kg(line, None, lot.filament, lot.spools) <= limit
