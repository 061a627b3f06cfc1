"""The floor as planned so far: what each line holds and when it is free, crews, hoppers, ovens and packing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from stockplan.planner.core.drying import Charge, HopperBoard
from stockplan.planner.core.finishing import Arrival, FinishingBoard
from stockplan.planner.core.materials import StoreBoard, needs_of
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.timing import CrewBoard


@dataclass(frozen=True)
class Lot:
    """One filament and how many spools of each of its SKUs, in the order of `Plant.skus_of`."""

    filament: str
    spools: tuple[int, ...]
    is_pinned: bool = False


def lot_of_sizes(plant: Plant, filament: str, sizes: Mapping[str, int], *, is_pinned: bool = False) -> Lot:
    """Return spools by SKU code as a lot."""
    spools = tuple(sizes.get(plant.facts.skus[s].code, 0) for s in plant.skus_of[filament])
    return Lot(filament, spools, is_pinned=is_pinned)


def sizes_of(plant: Plant, lot: Lot) -> dict[str, int]:
    """Return the spools of a lot by SKU code."""
    skus = zip(plant.skus_of[lot.filament], lot.spools, strict=True)
    return {plant.facts.skus[s].code: n for s, n in skus if n}


@dataclass(frozen=True)
class LineState:
    """When a line is free, in minutes since the list's instant, and the filament in its barrel then."""

    free_min: int
    holds: str | None


@dataclass(frozen=True)
class Timing:
    """When a lot would be made on a line. `start_min` is the start of the changeover."""

    start_min: int
    wind_min: int
    end_min: int
    changeover_from: str | None
    changeover_min: int
    run_min: int
    charge: Charge | None


@dataclass(frozen=True)
class TimedRun:
    """A lot with its line, place, times and arrivals on the shelf (for each SKU of the filament)."""

    lot: Lot
    line: str
    timing: Timing
    dries_from_min: int | None
    arrivals: tuple[tuple[Arrival, ...], ...]

    @property
    def shelf_min(self) -> int:
        """Minute at which the last spool of the run is shelved."""
        return max(a.shelf_min for arrivals in self.arrivals for a in arrivals)

    @property
    def shelf_day(self) -> int:
        """Index of the first ship day that all spools of the run can serve."""
        return max(a.day for arrivals in self.arrivals for a in arrivals)


@dataclass
class Floor:
    """Written on as runs are placed. `time` looks, `place` writes."""

    plant: Plant
    lines: dict[str, LineState]
    crews: CrewBoard
    hoppers: HopperBoard
    finishing: FinishingBoard
    store: StoreBoard

    def copy(self) -> Floor:
        """Return a floor that can be written on without changing this one."""
        return Floor(
            self.plant,
            dict(self.lines),
            self.crews.copy(),
            self.hoppers.copy(),
            self.finishing.copy(),
            self.store.copy(),
        )

    def next_decision(self, line: str) -> int | None:
        """Return the first working minute at which the line is free."""
        return self.plant.line_spans[line].next_open(self.lines[line].free_min)

    def time(self, lot: Lot, line: str) -> Timing | None:
        """Return when the lot would be made next on the line; None if its working time ends before."""
        state, plant = self.lines[line], self.plant
        material = plant.material_of[lot.filament]
        change_min = plant.changeover_min(line, state.holds, lot.filament)
        resin_kg = plant.resin_kg(line, state.holds, lot.filament, lot.spools)
        usable = max(state.free_min, plant.usable_min[lot.filament])
        charge = self.hoppers.best(material, resin_kg=resin_kg, by_min=usable)
        run_min = plant.run_min(line, lot.filament, lot.spools, dryer_kg_h=charge.dryer_kg_h if charge else None)
        earliest = usable if charge is None else max(usable, charge.ready_min)
        changeover = self.crews.earliest(earliest, change_min, plant.changeover_spans[line])
        if changeover is None:
            return None
        wind = plant.winding_spans[line].next_open(changeover[1])
        end = None if wind is None else plant.winding_spans[line].add(wind, run_min)
        if wind is None or end is None:
            return None
        start = wind if change_min == 0 else changeover[0]
        return Timing(start, wind, end, state.holds, change_min, run_min, charge)

    def place(self, lot: Lot, line: str, timing: Timing) -> TimedRun:
        """Write a run on line, crews, hoppers and store; its spools are shelved by `shelve`."""
        material = self.plant.material_of[lot.filament]
        self.crews.take((timing.start_min, timing.start_min + timing.changeover_min))
        dries = self.hoppers.take(timing.charge, material, start_min=timing.start_min, end_min=timing.end_min)
        self.store.take(needs_of(self.plant, line, timing.changeover_from, lot.filament, lot.spools))
        self.lines[line] = LineState(timing.end_min, lot.filament)
        return TimedRun(lot, line, timing, dries, ())

    def shelve(self, run: TimedRun) -> TimedRun:
        """Write the spools of a run on ovens and packing, and return the run with their arrivals."""
        plant = self.plant
        material = plant.material_of[run.lot.filament]
        arrivals = tuple(
            self.finishing.shelve(plant.facts.skus[s], material, wound_min=run.timing.end_min, spools=n) if n else ()
            for s, n in zip(plant.skus_of[run.lot.filament], run.lot.spools, strict=True)
        )
        return replace(run, arrivals=arrivals)
