"""The floor of a replayed plant: runs happen as planned, spools dry and are packed where there is room."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from inventory.rules.calendar import WorkingTime
from stockplan.planner.core.facts import CommittedRun, HopperFacts, Pipeline, PlanFacts
from stockplan.planner.core.finishing import FinishingBoard, finishing_board
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.replay.records import LineUse
from stockplan.planner.core.timing import MinuteClock


@dataclass(frozen=True, order=True)
class StartedRun:
    """A run under way; ordered by its end, so that spools queue for the ovens as they are wound."""

    end: datetime
    line: str
    start: datetime
    filament: str
    hopper: str | None
    spools: tuple[tuple[str, int], ...]


@dataclass
class ShopFloor:
    """Written on as time goes by.

    Parameters
    ----------
    plant, clock, finishing
        Of the whole stretch: minutes count from its first morning.
    under_way
        Heap of runs that have started and not ended.
    coming
        Heap of (shelved at, SKU, spools) that are wound and not yet on the shelf.
    """

    plant: Plant
    clock: MinuteClock
    finishing: FinishingBoard
    working: Mapping[str, WorkingTime]
    holds: dict[str, str | None]
    hoppers: dict[str, HopperFacts]
    under_way: list[StartedRun] = field(default_factory=list)
    coming: list[tuple[datetime, str, int]] = field(default_factory=list)

    def start(self, runs: Iterable[TimedRun], *, as_of: datetime, until: datetime) -> LineUse:
        """Start the runs of a list of `as_of` that begin before an instant, and return the line time that they take."""
        minutes = MinuteClock(as_of)
        used = LineUse()
        for run in sorted(runs, key=lambda r: (r.timing.start_min, r.line)):
            if minutes.instant(run.timing.start_min) < until:
                used += self._start(run, minutes)
        return used

    def go_on(self, until: datetime, shelf: dict[str, int]) -> None:
        """Let time pass: runs end, their spools find places in oven and packing, and what is packed is shelved."""
        while self.under_way and self.under_way[0].end <= until:
            self._finish(heapq.heappop(self.under_way))
        while self.coming and self.coming[0][0] <= until:
            _, sku, spools = heapq.heappop(self.coming)
            shelf[sku] = shelf.get(sku, 0) + spools

    def available_min(self, start: datetime, end: datetime) -> float:
        """Return the line minutes of all shifts within [start, end)."""
        return sum(working.minutes_between(start, end) for working in self.working.values())

    def committed(self) -> tuple[CommittedRun, ...]:
        """Return the runs that are under way."""
        return tuple(
            CommittedRun(
                code=f"{run.line} {run.start:%Y-%m-%dT%H:%M}",
                filament=run.filament,
                line=run.line,
                is_started=True,
                planned_start=run.start,
                planned_end=run.end,
                hopper=run.hopper,
                spools=dict(run.spools),
            )
            for run in sorted(self.under_way)
        )

    def pipeline(self) -> tuple[Pipeline, ...]:
        """Return the spools that are wound and not yet shelved."""
        return tuple(Pipeline(sku, spools, shelf_at) for shelf_at, sku, spools in sorted(self.coming))

    def _start(self, run: TimedRun, minutes: MinuteClock) -> LineUse:
        timing, filament = run.timing, run.lot.filament
        start, wind, end = (minutes.instant(m) for m in (timing.start_min, timing.wind_min, timing.end_min))
        codes = [self.plant.facts.skus[s].code for s in self.plant.skus_of[filament]]
        spools = tuple((sku, n) for sku, n in zip(codes, run.lot.spools, strict=True) if n)
        hopper = timing.charge.hopper if timing.charge else None
        heapq.heappush(self.under_way, StartedRun(end, run.line, start, filament, hopper, spools))
        self.holds[run.line] = filament
        if hopper is not None and run.dries_from_min is not None:
            material = self.plant.material_of[filament].code
            since = minutes.instant(run.dries_from_min)
            self.hoppers[hopper] = replace(self.hoppers[hopper], holds_material=material, dried_since=since)
        purge = self.plant.purge_kg(run.line, timing.changeover_from, filament)
        wound = self.working[run.line].minutes_between(wind, end)
        return LineUse(winding_min=wound, changeover_min=float(timing.changeover_min), purge_kg=purge, runs=1)

    def _finish(self, run: StartedRun) -> None:
        material, wound = self.plant.material_of[run.filament], self.clock.minute(run.end)
        skus = {self.plant.facts.skus[s].code: self.plant.facts.skus[s] for s in self.plant.skus_of[run.filament]}
        for code, spools in run.spools:
            for arrival in self.finishing.shelve(skus[code], material, wound_min=wound, spools=spools):
                heapq.heappush(self.coming, (self.clock.instant(arrival.shelf_min), code, arrival.spools))


def shop_floor(plant: Plant, *, last: datetime) -> ShopFloor:
    """Return an empty floor: lines hold what the facts say, nothing runs, ovens are free until `last`."""
    facts = plant.facts
    return ShopFloor(
        plant=plant,
        clock=plant.clock,
        finishing=finishing_board(
            facts.calendar, clock=plant.clock, days=facts.days, last=last, materials=facts.materials, ovens=facts.ovens
        ),
        working={c: WorkingTime(tuple(facts.calendar.working_windows(c, facts.as_of, last))) for c in plant.lines},
        holds={line.code: line.holds for line in facts.lines},
        hoppers={hopper.code: hopper for hopper in facts.hoppers},
    )


def settled(facts: PlanFacts) -> PlanFacts:
    """Return the plant without stock, runs or orders of its own: what a replay starts from."""
    none = (0,) * len(facts.days)
    zero = (0.0,) * len(facts.days)
    skus = tuple(replace(s, shelf=0, order_up_to=0, late=0, due=none, mean=zero, variance=zero) for s in facts.skus)
    return replace(facts, skus=skus, committed=(), pipeline=(), store=(), instructions=()).in_order()
