"""A make list as a problem of the search, and the search's plan as lots on lines.

What the search does not know is left to the floor, which times every plan again: crews that are taken, which hopper
dries what after the first load, places in ovens and packing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stockplan.planner.core.finishing import ShelfTimes
from stockplan.planner.core.floor import Floor, Lot
from stockplan.planner.core.plant import AFTER_LAST_DAY, Plant
from stockplan.planner.core.ranking import day_weights
from stockplan.planner.core.search.problem import (
    NOTHING,
    Floats,
    Ints,
    SearchLine,
    SearchLot,
    SearchPlan,
    SearchProblem,
)
from stockplan.planner.core.supply import SupplyState
from stockplan.planner.core.timing import Span, Spans


@dataclass(frozen=True)
class ListProblem:
    """The problem from where a floor and its supply stand. Families are `filaments`, lines those of the plant."""

    problem: SearchProblem
    filaments: tuple[str, ...]
    lines: tuple[str, ...]

    def plan(self, sequences: Mapping[str, Sequence[Lot]]) -> SearchPlan:
        """Return lots on lines as a plan of the search, no SKU beyond what may be made."""
        index = {code: at for at, code in enumerate(self.filaments)}
        left = np.array([len(costs) - 1 for costs in self.problem.costs])
        plan: list[tuple[SearchLot, ...]] = []
        for line in self.lines:
            lots = []
            for lot in sequences.get(line, ()):
                skus = np.flatnonzero(self.problem.family_of == index[lot.filament])
                units = np.minimum(lot.spools, left[skus])
                left[skus] -= units
                if units.any():
                    lots.append(SearchLot(index[lot.filament], tuple(int(n) for n in units)))
            plan.append(tuple(lots))
        return tuple(plan)

    def sequences(self, plan: SearchPlan) -> dict[str, list[Lot]]:
        """Return a plan of the search as lots on lines."""
        return {
            line: [Lot(self.filaments[lot.family], lot.units) for lot in lots]
            for line, lots in zip(self.lines, plan, strict=True)
        }


def list_problem(
    floor: Floor,
    state: SupplyState,
    *,
    allowed: Sequence[str],
    fixed: Sequence[int],
    price_per_min: float = 0.0,
    above_level: float = 0.0,
) -> ListProblem:
    """Lay out what may still be made.

    Parameters
    ----------
    floor, state
        Lines, hoppers and supply after what is on the list already.
    allowed
        Filaments that may be made.
    fixed
        SKUs (by index) of which nothing more is made.
    price_per_min
        What a minute of changeover costs in misses, for what later lists could make in it.
    above_level
        What a spool above its order-up-to level costs in misses for each ship day.
    """
    plant = floor.plant
    filaments = tuple(plant.filaments)
    index = {code: at for at, code in enumerate(filaments)}
    hours = sorted(floor.finishing.times)
    arrival = _arrival_days(plant, [floor.finishing.times[h] for h in hours])
    problem = SearchProblem(
        lines=[_line(floor, line, filaments, arrival, price_per_min) for line in plant.lines],
        family_of=np.array([index[sku.filament] for sku in plant.facts.skus], dtype=np.int64),
        costs=[
            _costs(plant, state, s, may=sku.filament in allowed and s not in fixed, above_level=above_level)
            for s, sku in enumerate(plant.facts.skus)
        ],
        release_min=np.array([_dry_at(floor, code) for code in filaments], dtype=np.int64),
        finish=np.array([hours.index(plant.material_of[code].spool_dry_h) for code in filaments], dtype=np.int64),
    )
    return ListProblem(problem, filaments, tuple(plant.lines))


def _costs(plant: Plant, state: SupplyState, sku: int, *, may: bool, above_level: float) -> Floats:
    """Weighted misses of each day with 0.. further spools by it, and what is above the level of that day."""
    days = len(plant.facts.days)
    level = np.array([state.most(sku, minute) for minute in plant.pick_ups])
    most = state.most(sku, plant.end_min) if may else 0
    further = np.arange(most + 1)[:, None]
    table = state.tables[sku]
    misses = table.cost[np.arange(days)[None, :], table.column(state.supply[sku][None, :] + further)]
    above = np.maximum(further - level[None, :], 0) * above_level
    return np.asarray((misses + above) * day_weights(plant)[None, :])


def _line(floor: Floor, line: str, filaments: Sequence[str], arrival: Ints, price_per_min: float) -> SearchLine:
    plant, state = floor.plant, floor.lines[line]
    setup, cost = _setups(plant, line, filaments, price_per_min)
    return SearchLine(
        setup_min=setup,
        setup_cost=cost,
        unit_min=_unit_minutes(plant, line),
        arrival_day=arrival,
        holds=NOTHING if state.holds is None else filaments.index(state.holds),
        free_min=state.free_min,
        start_up_min=plant.lines[line].start_up_min,
        work=plant.line_spans[line].spans,
        setups=_until(plant.changeover_spans[line], plant.end_min),
        stops_outside=not plant.lines[line].runs_unattended,
    )


def _setups(plant: Plant, line: str, filaments: Sequence[str], price_per_min: float) -> tuple[Ints, Floats]:
    """Whole minutes of each changeover, and what they cost, the way back from another material included."""
    order = [plant.changeovers.index[code] for code in filaments]
    pairs = np.ix_(order, order)
    n = len(filaments)
    minutes = np.zeros((n + 1, n), dtype=np.int64)
    minutes[:n] = np.ceil(plant.changeovers.minutes[line][pairs] - 1e-9)
    np.fill_diagonal(minutes[:n], 0)
    cost = np.zeros((n + 1, n + 1))
    way_back = plant.facts.parameters.way_back_min * plant.changeovers.is_material_change[pairs]
    cost[:n, :n] = price_per_min * (minutes[:n] + way_back)
    return minutes, cost


def _unit_minutes(plant: Plant, line: str) -> Floats:
    found = np.full(len(plant.facts.skus), np.inf)
    for filament in plant.lines[line].rates:
        found[list(plant.skus_of[filament])] = plant.spool_minutes(line, filament)
    return found


def _arrival_days(plant: Plant, times: Sequence[ShelfTimes]) -> Ints:
    """Ship day of what is wound by each minute, for each drying time; past the last day nothing arrives."""
    minutes = np.arange(plant.end_min + int(AFTER_LAST_DAY.total_seconds() // 60))
    rows = []
    for each in times:
        gate = np.minimum(np.searchsorted(each.gates, minutes), len(each.gates) - 1)
        rows.append(np.minimum(np.array(each.day)[gate], len(plant.facts.days)))
    days = np.stack(rows)
    days[:, -1] = len(plant.facts.days)
    return days


def _until(spans: Spans, end_min: int) -> tuple[Span, ...]:
    return tuple((lo, min(hi, end_min)) for lo, hi in spans.spans if lo < end_min)


def _dry_at(floor: Floor, filament: str) -> int:
    """Minute from which a hopper has resin for a short run dry, and the materials are there."""
    charge = floor.hoppers.best(floor.plant.material_of[filament], resin_kg=0.0)
    return max(floor.plant.usable_min[filament], 0 if charge is None else charge.ready_min)
