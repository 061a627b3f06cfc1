"""The facts of a make list, indexed and laid out for fast reading. Nothing here decides."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta

from stockplan.planner.core.changeover import ChangeoverTable, changeover_table
from stockplan.planner.core.extrusion import RunMasses, line_kg_h, run_masses, winding_minutes
from stockplan.planner.core.facts import FilamentFacts, LineFacts, MaterialFacts, PlanFacts, SkuFacts
from stockplan.planner.core.timing import MinuteClock, Spans, merged

# A run that starts on the last day may end and be shelved after a long weekend.
AFTER_LAST_DAY = timedelta(days=14)
_MIDNIGHT = time(0)
ALWAYS = Spans(((0, 10**9),))


@dataclass(frozen=True)
class Plant:
    """Facts by code. Minutes are whole and count from the list's instant.

    Parameters
    ----------
    line_spans
        When each line works: its shifts without its stops.
    winding_spans
        When a run on it may go on: always but for the stops, where it runs without a shift.
    stopped
        What the stops take of the winding.
    part_users
        By filament, the items of which its spools take one piece each until they are on the shelf, with the places of
        the sizes that take one.
    usable_min
        Minute from which the materials of a filament are there, and dry.
    """

    facts: PlanFacts
    clock: MinuteClock
    end_min: int
    pick_ups: tuple[int, ...]
    lines: Mapping[str, LineFacts]
    filaments: Mapping[str, FilamentFacts]
    material_of: Mapping[str, MaterialFacts]
    skus_of: Mapping[str, tuple[int, ...]]
    line_spans: Mapping[str, Spans]
    winding_spans: Mapping[str, Spans]
    stopped: Mapping[str, Spans]
    part_users: Mapping[str, tuple[tuple[str, tuple[int, ...]], ...]]
    usable_min: Mapping[str, int]
    changeover_spans: Mapping[str, Spans]
    changeovers: ChangeoverTable
    looked_up: dict[tuple[str, str, float | None], tuple[float, ...]] = field(
        default_factory=dict, compare=False, repr=False
    )

    def changeover_min(self, line: str, holds: str | None, filament: str) -> int:
        """Return the whole minutes of a changeover; an empty line has none."""
        if holds is None or holds == filament:
            return 0
        index = self.changeovers.index
        return math.ceil(float(self.changeovers.minutes[line][index[holds], index[filament]]) - 1e-9)

    def purge_kg(self, line: str, holds: str | None, filament: str) -> float:
        """Return the mass that is purged in a changeover."""
        if holds is None or holds == filament:
            return 0.0
        index = self.changeovers.index
        return float(self.changeovers.purge_kg[line][index[holds], index[filament]])

    def is_material_change(self, holds: str | None, filament: str) -> bool:
        """Say whether the line would go over to another material."""
        if holds is None:
            return False
        index = self.changeovers.index
        return bool(self.changeovers.is_material_change[index[holds], index[filament]])

    def kg_h(self, line: str, filament: str, *, dryer_kg_h: float | None = None) -> float:
        """Return what the line winds of a filament in an hour."""
        strands, speed_m_min = self.lines[line].rates[filament]
        return line_kg_h(
            strands=strands,
            speed_m_min=speed_m_min,
            diameter_mm=self.filaments[filament].traits.diameter_mm,
            density_g_cm3=self.material_of[filament].density_g_cm3,
            extruder_kg_h=self.lines[line].extruder_kg_h,
            dryer_kg_h=math.inf if dryer_kg_h is None else dryer_kg_h,
        )

    def good_kg(self, filament: str, spools: Sequence[int]) -> float:
        """Return the mass wound on good spools, give-away included."""
        return sum(n * self.facts.skus[s].target_kg for s, n in zip(self.skus_of[filament], spools, strict=True))

    def spool_minutes(self, line: str, filament: str, *, dryer_kg_h: float | None = None) -> tuple[float, ...]:
        """Return the winding minutes of one spool of each SKU; looked up from the second time on."""
        key = (line, filament, dryer_kg_h)
        if key not in self.looked_up:
            facts, rate = self.lines[line], self.kg_h(line, filament, dryer_kg_h=dryer_kg_h)
            self.looked_up[key] = tuple(
                winding_minutes(
                    mass_kg=self.facts.skus[s].target_kg,
                    kg_h=rate,
                    scrap_share=facts.scrap_share,
                    availability=facts.availability,
                )
                for s in self.skus_of[filament]
            )
        return self.looked_up[key]

    def run_min(self, line: str, filament: str, spools: Sequence[int], *, dryer_kg_h: float | None = None) -> int:
        """Return start-up and winding in whole minutes."""
        each = self.spool_minutes(line, filament, dryer_kg_h=dryer_kg_h)
        winding = sum(n * minutes for n, minutes in zip(spools, each, strict=True))
        return math.ceil(self.lines[line].start_up_min + winding - 1e-9)

    def masses(self, line: str, holds: str | None, filament: str, spools: Sequence[int]) -> RunMasses:
        """Return what the run eats and makes."""
        return run_masses(
            good_kg=self.good_kg(filament, spools),
            purge_kg=self.purge_kg(line, holds, filament),
            scrap_share=self.lines[line].scrap_share,
            let_down_share=self.filaments[filament].let_down_share,
        )

    def resin_kg(self, line: str, holds: str | None, filament: str, spools: Sequence[int]) -> float:
        """Return the resin that the run eats."""
        return self.masses(line, holds, filament, spools).resin_kg

    def lines_for(self, filament: str) -> tuple[str, ...]:
        """Return the lines that can make a filament, in order."""
        return tuple(line.code for line in self.facts.lines if filament in line.rates)


def plant_of(facts: PlanFacts) -> Plant:
    """Index the facts (which must be in order)."""
    clock = MinuteClock(facts.as_of)
    last = facts.calendar.at(facts.last_day + timedelta(days=1), _MIDNIGHT)
    lines = {line.code: line for line in facts.lines}
    skus_of = _skus_of(facts)
    stops = {code: _stops(facts, clock, code) for code in lines}
    line_spans = working_spans(facts, end=_last_end(facts))
    winding = {
        code: ALWAYS if line.runs_unattended else _spans(facts, clock, code, end=_last_end(facts))
        for code, line in lines.items()
    }
    crew_spans = _crew_spans(facts, clock)
    materials = {m.code: m for m in facts.materials}
    return Plant(
        facts=facts,
        clock=clock,
        end_min=clock.minute(last),
        pick_ups=tuple(clock.minute(facts.calendar.pick_up_at(day)) for day in facts.days),
        lines=lines,
        filaments={f.code: f for f in facts.filaments},
        material_of={f.code: materials[f.traits.material] for f in facts.filaments},
        skus_of=skus_of,
        part_users={code: _part_users([facts.skus[s] for s in skus]) for code, skus in skus_of.items()},
        line_spans=line_spans,
        winding_spans={code: winding[code].without(stops[code]) for code in lines},
        stopped={code: winding[code].intersect(stops[code]) for code in lines},
        usable_min={f.code: _usable_min(facts, clock, f, materials[f.traits.material]) for f in facts.filaments},
        changeover_spans={
            code: spans if crew_spans is None else spans.intersect(crew_spans) for code, spans in line_spans.items()
        },
        changeovers=changeover_table(
            [f.traits for f in facts.filaments],
            lines=list(lines),
            rule=facts.changeover_rule,
            overrides=facts.overrides,
        ),
    )


def working_spans(facts: PlanFacts, *, end: datetime) -> dict[str, Spans]:
    """Return when each line works until an instant: its shifts without its stops."""
    clock = MinuteClock(facts.as_of)
    return {
        line.code: _spans(facts, clock, line.code, end=end).without(_stops(facts, clock, line.code))
        for line in facts.lines
    }


def _last_end(facts: PlanFacts) -> datetime:
    return facts.calendar.at(facts.last_day, _MIDNIGHT) + AFTER_LAST_DAY


def _part_users(skus: Sequence[SkuFacts]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    users: defaultdict[str, list[int]] = defaultdict(list)
    for at, sku in enumerate(skus):
        for item in (sku.spool_part, *sku.packed_with):
            users[item].append(at)
    return tuple((item, tuple(places)) for item, places in sorted(users.items()))


def _stops(facts: PlanFacts, clock: MinuteClock, line: str) -> Spans:
    return merged([(clock.minute(stop.start), clock.minute(stop.end)) for stop in facts.stops if stop.line == line])


def _usable_min(facts: PlanFacts, clock: MinuteClock, filament: FilamentFacts, material: MaterialFacts) -> int:
    """Return the minute from which resin is there and dry, and concentrate is there."""
    found = [0]
    for item in facts.store:
        if item.usable_from is not None and item.code in {material.resin_item, filament.concentrate_item}:
            dry_h = material.resin_dry_h if item.code == material.resin_item else 0.0
            found.append(clock.minute(item.usable_from) + round(dry_h * 60))
    return max(found)


def _spans(facts: PlanFacts, clock: MinuteClock, line: str, *, end: datetime) -> Spans:
    windows = facts.calendar.working_windows(line, facts.as_of, end)
    return Spans(tuple((clock.minute(lo), clock.minute(hi)) for lo, hi in windows))


def _crew_spans(facts: PlanFacts, clock: MinuteClock) -> Spans | None:
    """Return when at least one crew is there; None where no crews are entered."""
    if not facts.calendar.crews:
        return None
    windows = facts.calendar.crew_windows(facts.as_of, _last_end(facts))
    return merged([(clock.minute(lo), clock.minute(hi)) for lo, hi, _ in windows])


def _skus_of(facts: PlanFacts) -> dict[str, tuple[int, ...]]:
    found: dict[str, list[int]] = {f.code: [] for f in facts.filaments}
    for index, sku in enumerate(facts.skus):
        found[sku.filament].append(index)
    return {code: tuple(indices) for code, indices in found.items()}
