"""What keeps a list from avoiding the misses of its own days: the way to the shelf, ovens and packing, or the lines.

Counted here are spools due up to the list's last day that do not ship on their due day, m(t) of `shortage`, without
the further days that they wait and without what comes after. The same demand is held against ever better supply: the
list's; the list's were ovens and packing never full; any number of spools as soon as one run begun now could bring
them. m falls with supply, so the steps between them say what each limit costs.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from stockplan.planner.core.floor import Lot, TimedRun
from stockplan.planner.core.made import Made
from stockplan.planner.core.shortage import Floats, Ints, missed_units

# More spools than any demand within the days looked at.
PLENTY = 10**9
# Lines that wait so much of their time for dry resin wait for it rather than for each other's runs.
LONG_WAIT_SHARE = 0.05
# Fewer spools than this are not worth a word.
LEAST_MISSED = 0.5


class Limit(StrEnum):
    """What limits most, in the trade's words."""

    NONE = "nothing"
    LEAD_TIME = "the way to the shelf"
    NOT_MADE = "materials and instructions"
    FINISHING = "ovens and packing"
    DRYING = "drying hoppers"
    LINES = "line time"


@dataclass(frozen=True)
class Limits:
    """Spools due on the list's days and not shipped on their due day, by what would have to be wider.

    Parameters
    ----------
    lead_time
        Due before a run begun now can be on the shelf.
    not_made
        More, of filaments that are forbidden, lack their materials or have no line.
    finishing
        More, that wait for a place in ovens or packing.
    lines
        The rest.
    busy_share, drying_share
        Of the working time of all lines until the last day: changeovers and runs; idle until resin is dry.
    """

    lead_time: float
    not_made: float
    finishing: float
    lines: float
    busy_share: float
    drying_share: float

    @property
    def missed(self) -> float:
        """All of them."""
        return self.lead_time + self.not_made + self.finishing + self.lines

    @property
    def most(self) -> Limit:
        """The limit that most of them come from."""
        parts = {
            Limit.LEAD_TIME: self.lead_time,
            Limit.NOT_MADE: self.not_made,
            Limit.FINISHING: self.finishing,
            Limit.DRYING if self.drying_share >= LONG_WAIT_SHARE else Limit.LINES: self.lines,
        }
        return max(parts, key=lambda limit: parts[limit]) if self.missed >= LEAST_MISSED else Limit.NONE


def limits_of(made: Made, *, not_made: Collection[str]) -> Limits:
    """Say what keeps a list from avoiding the misses of its days.

    Parameters
    ----------
    not_made
        Filaments that are forbidden, lack their materials or have no line.
    """
    plant = made.floor.plant
    demand = made.opening.demand
    inside = sum(day <= plant.facts.last_day for day in plant.facts.days)
    with_list, free, soonest = (
        missed_units(supply, demand)[:, :inside].sum(axis=1)
        for supply in (made.state.supply, _finished_at_once(made), _soonest(made))
    )
    is_out = np.array([sku.filament in not_made for sku in plant.facts.skus], dtype=bool)
    busy_share, drying_share = _time_shares(made)
    return Limits(
        lead_time=_total(soonest),
        not_made=_total((with_list - soonest)[is_out]),
        finishing=_total((with_list - free)[~is_out]),
        lines=_total((free - soonest)[~is_out]),
        busy_share=busy_share,
        drying_share=drying_share,
    )


def _total(units: Floats) -> float:
    return max(float(units.sum()), 0.0)


def _finished_at_once(made: Made) -> Ints:
    """Return the supply of the list were ovens and packing never full."""
    supply = made.opening.supply.copy()
    for run in made.runs:
        day = _first_day(made, run)
        for sku, spools in zip(made.floor.plant.skus_of[run.lot.filament], run.lot.spools, strict=True):
            supply[sku, day:] += spools
    return supply


def _soonest(made: Made) -> Ints:
    """Return a supply of plenty from the first day on which one run begun now could bring a filament."""
    plant, supply = made.floor.plant, made.opening.supply.copy()
    own = {code: [_first_day(made, run) for run in made.runs if run.lot.filament == code] for code in plant.filaments}
    for code in plant.filaments:
        days = [
            *own[code],
            *(day for line in plant.lines_for(code) if (day := _day_if_next(made, line, code)) is not None),
        ]
        # Without a line it is not the way to the shelf that keeps it from being there.
        first = min(days, default=0 if not plant.lines_for(code) else supply.shape[1])
        supply[list(plant.skus_of[code]), first:] += PLENTY
    return supply


def _first_day(made: Made, run: TimedRun) -> int:
    material = made.floor.plant.material_of[run.lot.filament]
    return made.floor.finishing.first_day(material, run.timing.end_min)


def _day_if_next(made: Made, line: str, filament: str) -> int | None:
    """Return the first ship day of the shortest run as a line's next one."""
    plant, skus = made.floor.plant, made.floor.plant.skus_of[filament]
    smallest = min(skus, key=lambda s: plant.facts.skus[s].target_kg, default=None)
    timing = made.opening.floor.time(Lot(filament, tuple(int(s == smallest) for s in skus)), line)
    return None if timing is None else made.floor.finishing.first_day(plant.material_of[filament], timing.end_min)


def _time_shares(made: Made) -> tuple[float, float]:
    """Return the shares of the lines' working time in which they work, and in which they wait for dry resin."""
    plant, busy, drying = made.floor.plant, 0, 0
    runs = sorted(made.runs, key=lambda r: (r.line, r.timing.start_min))
    for line, group in itertools.groupby(runs, key=lambda r: r.line):
        spans, free = plant.line_spans[line], made.opening.floor.lines[line].free_min
        busy += spans.minutes(0, min(free, plant.end_min))
        for run in group:
            start, end = (min(minute, plant.end_min) for minute in (run.timing.start_min, run.timing.end_min))
            dry = 0 if run.timing.charge is None else min(run.timing.charge.ready_min, start)
            busy += spans.minutes(start, end)
            drying += spans.minutes(free, dry)
            free = end
    open_min = max(sum(spans.minutes(0, plant.end_min) for spans in plant.line_spans.values()), 1)
    return busy / open_min, drying / open_min
