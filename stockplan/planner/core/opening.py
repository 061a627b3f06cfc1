"""The floor and the supply before anything new is planned: committed runs, pipeline, boards."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

import numpy as np

from stockplan.planner.core.drying import hopper_board
from stockplan.planner.core.facts import CommittedRun
from stockplan.planner.core.finishing import Arrival, finishing_board
from stockplan.planner.core.floor import Floor, LineState, TimedRun, Timing, lot_of_sizes
from stockplan.planner.core.materials import StoreBoard, needs_of
from stockplan.planner.core.plant import AFTER_LAST_DAY, Plant
from stockplan.planner.core.shortage import Demand, Ints, cumulated
from stockplan.planner.core.timing import CrewBoard


@dataclass(frozen=True)
class Opening:
    """What stands before the list: the floor, cumulated supply (S, T), demand, and supply of any later day (S,)."""

    floor: Floor
    supply: Ints
    all_supply: Ints
    demand: Demand


def opening_of(plant: Plant) -> Opening:
    """Lay committed runs on the floor and cumulate what is on the shelf and on its way."""
    floor = _bare_floor(plant)
    runs = [_commit(floor, run) for run in plant.facts.committed]
    arrivals: dict[int, list[tuple[int, int]]] = {s: [] for s in range(len(plant.facts.skus))}
    for sku, arrival in [*_pipeline(plant, floor), *_outputs(plant, runs)]:
        arrivals[sku].append((arrival.day, arrival.spools))
    days = len(plant.facts.days)
    shelf = [sku.shelf for sku in plant.facts.skus]
    supply = np.array([cumulated(arrivals[s], first=shelf[s], days=days) for s in arrivals]).reshape(-1, days)
    total = np.array([shelf[s] + sum(n for _, n in arrivals[s]) for s in arrivals], dtype=np.int64)
    return Opening(floor, supply, total, demand_of(plant))


def demand_of(plant: Plant) -> Demand:
    """Stack the SKUs' demand. What is built ahead is asked for as soon as the days of the list are over."""
    skus, days = plant.facts.skus, len(plant.facts.days)
    is_after = np.array([day > plant.facts.last_day for day in plant.facts.days])
    due = np.array([s.due for s in skus], dtype=np.int64).reshape(-1, days)
    ahead = np.array([s.ahead for s in skus], dtype=np.int64)
    return Demand(
        late=np.array([s.late for s in skus], dtype=np.int64),
        due=due + ahead[:, None] * is_after,
        mean=np.array([s.mean for s in skus], dtype=np.float64).reshape(-1, days),
        variance=np.array([s.variance for s in skus], dtype=np.float64).reshape(-1, days),
    )


def _bare_floor(plant: Plant) -> Floor:
    facts, clock = plant.facts, plant.clock
    last = clock.instant(plant.end_min) + AFTER_LAST_DAY
    windows = facts.calendar.crew_windows(facts.as_of, last) if facts.calendar.crews else None
    return Floor(
        plant=plant,
        lines={line.code: LineState(0, line.holds) for line in facts.lines},
        crews=CrewBoard(
            None if windows is None else tuple((clock.minute(lo), clock.minute(hi), size) for lo, hi, size in windows)
        ),
        hoppers=hopper_board(facts.hoppers, clock=clock),
        finishing=finishing_board(
            facts.calendar, clock=clock, days=facts.days, last=last, materials=facts.materials, ovens=facts.ovens
        ),
        store=StoreBoard({item.code: item.on_hand for item in facts.store}),
    )


def _commit(floor: Floor, run: CommittedRun) -> TimedRun:
    """Put a released or started run on its line; one that is late by now begins now and takes as long as planned."""
    plant, state = floor.plant, floor.lines[run.line]
    planned_start, planned_end = plant.clock.minute(run.planned_start), plant.clock.minute(run.planned_end)
    start = planned_start if run.is_started else max(planned_start, state.free_min, 0)
    slip = start - planned_start
    end = (
        _end(plant, run.line, start, planned_end)
        if slip == 0
        else _moved_end(plant, run.line, start, planned_start, planned_end)
    )
    floor.lines[run.line] = LineState(max(end, state.free_min), run.filament)
    lot = lot_of_sizes(plant, run.filament, run.spools)
    floor.store.take(needs_of(plant, run.line, None, run.filament, lot.spools))
    if run.hopper is not None and run.hopper in floor.hoppers.states:
        floor.hoppers.reserve(
            run.hopper,
            plant.material_of[run.filament],
            resin_kg=plant.resin_kg(run.line, None, run.filament, lot.spools),
            start_min=start,
            end_min=end,
        )
    timing = Timing(start, start, end, None, 0, end - start, None)
    return floor.shelve(TimedRun(lot, run.line, timing, None, ()))


def _end(plant: Plant, line: str, start: int, planned_end: int) -> int:
    """Return when a run ends that goes on as planned but for the stops of its line."""
    end = max(planned_end, 0)
    lost = plant.stopped[line].minutes(max(start, 0), end)
    return (plant.winding_spans[line].add(end, lost) or end + lost) if lost else end


def _moved_end(plant: Plant, line: str, start: int, planned_start: int, planned_end: int) -> int:
    spans = plant.winding_spans[line]
    work = planned_end - planned_start
    if planned_start >= 0:
        work = spans.minutes(planned_start, planned_end) + plant.stopped[line].minutes(planned_start, planned_end)
    end = spans.add(start, work)
    return start + work if end is None else end


def _outputs(plant: Plant, runs: list[TimedRun]) -> list[tuple[int, Arrival]]:
    return [
        (sku, arrival)
        for run in runs
        for sku, arrivals in zip(plant.skus_of[run.lot.filament], run.arrivals, strict=True)
        for arrival in arrivals
    ]


def _pipeline(plant: Plant, floor: Floor) -> list[tuple[int, Arrival]]:
    """Return the spools that are wound; those whose hour has passed are packed on the next packing morning.

    What packs them is still in the store, and theirs.
    """
    index = {sku.code: i for i, sku in enumerate(plant.facts.skus)}
    found = []
    for row in plant.facts.pipeline:
        shelf = plant.clock.minute(row.shelf_at)
        if shelf <= 0:
            shelf = plant.clock.minute(plant.facts.calendar.shelf_at(plant.facts.as_of, dry_h=0))
        day = bisect_left(plant.pick_ups, shelf)
        floor.finishing.packed[shelf] = floor.finishing.packed.get(shelf, 0) + row.quantity
        floor.store.take(dict.fromkeys(plant.facts.skus[index[row.sku]].packed_with, row.quantity))
        found.append((index[row.sku], Arrival(shelf, day, row.quantity)))
    return found
