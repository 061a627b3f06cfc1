"""A make list as a problem of the search, and the search's plan as lots on lines.

The floor times every plan again: a lot that ovens or packing split arrives in parts there, with its last spools here,
and one that ends within the slack before a load is in it there, and not here.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stockplan.planner.core.finishing import ShelfTimes
from stockplan.planner.core.floor import Floor, Lot, TimedRun
from stockplan.planner.core.list_costs import Prices, costs_by_supply, misses_by_supply
from stockplan.planner.core.list_shared import dryers_of, finishing_of, items_of, purge_of
from stockplan.planner.core.plant import AFTER_LAST_DAY, Plant
from stockplan.planner.core.search.dispatch import within_stock
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
    """The problem from where a floor and its `supply` (S, T) stand. Families are `filaments`, lines the plant's."""

    problem: SearchProblem
    filaments: tuple[str, ...]
    lines: tuple[str, ...]
    supply: Ints

    def plan(self, sequences: Mapping[str, Sequence[Lot]], *, least_left: float = 0.0) -> SearchPlan:
        """Return lots on lines as a plan of the search, no SKU beyond what may be made, no item beyond its stock.

        Parameters
        ----------
        least_left
            Share of a lot's spools; one that would be cut to less is left out.
        """
        index = {code: at for at, code in enumerate(self.filaments)}
        use, stock = self.problem.items_of.use, self.problem.items_of.stock.copy()
        left = np.array([len(costs) - 1 for costs in self.problem.costs])
        plan: list[tuple[SearchLot, ...]] = []
        for line in self.lines:
            lots = []
            for lot in sequences.get(line, ()):
                skus = np.flatnonzero(self.problem.family_of == index[lot.filament])
                units = within_stock(np.minimum(lot.spools, left[skus]), use[skus], stock)
                if units.any() and units.sum() >= least_left * sum(lot.spools):
                    left[skus] -= units
                    stock -= units @ use[skus]
                    lots.append(SearchLot(index[lot.filament], tuple(int(n) for n in units)))
            plan.append(tuple(lots))
        return tuple(plan)

    def sequences(self, plan: SearchPlan) -> dict[str, list[Lot]]:
        """Return a plan of the search as lots on lines."""
        return {
            line: [Lot(self.filaments[lot.family], lot.units) for lot in lots]
            for line, lots in zip(self.lines, plan, strict=True)
        }

    def cost(self, runs: Sequence[TimedRun], supply: Ints) -> float:
        """Return what runs cost as the floor times them, with the supply (S, T) that they lead to."""
        days = np.arange(self.problem.days)
        further = supply[:, : len(days)] - self.supply
        # A pinned run may come later beside the others than alone: what is missing then is taken as nothing more made.
        made = (np.clip(row, 0, len(table) - 1) for row, table in zip(further, self.problem.costs, strict=True))
        cost = sum(float(table[n, days].sum()) for n, table in zip(made, self.problem.costs, strict=True))
        index = {code: at for at, code in enumerate(self.filaments)}
        for run in runs:
            if run.timing.changeover_from is not None:
                line = self.problem.lines[self.lines.index(run.line)]
                cost += float(line.setup_cost[index[run.timing.changeover_from], index[run.lot.filament]])
        return cost


def list_problem(
    floor: Floor,
    state: SupplyState,
    *,
    allowed: Collection[str],
    fixed: Collection[int],
    until_min: int,
    prices: Prices | None = None,
    slack_min: int = 0,
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
    until_min
        Minute by which the last changeover is done.
    prices
        What lines and stock are worth to later lists; None: misses alone count.
    slack_min
        Minutes before the load of an oven, or packing, by which lots must end to be in it.
    """
    plant = floor.plant
    filaments = tuple(plant.filaments)
    index = {code: at for at, code in enumerate(filaments)}
    hours = sorted(floor.finishing.times)
    arrival = _arrival_days(plant, [floor.finishing.times[h] for h in hours], slack_min=slack_min)
    minute = prices.minute if prices else 0.0
    most = [
        state.most(s, plant.end_min) if sku.filament in allowed and s not in fixed else 0
        for s, sku in enumerate(plant.facts.skus)
    ]
    items = items_of(floor)
    problem = SearchProblem(
        lines=[
            _line(floor, line, filaments, arrival=arrival, until_min=until_min, price_per_min=minute)
            for line in plant.lines
        ],
        family_of=np.array([index[sku.filament] for sku in plant.facts.skus], dtype=np.int64),
        costs=[
            misses_by_supply(plant, state, s, most=n)
            if prices is None
            else costs_by_supply(plant, state, s, most=n, prices=prices)
            for s, n in enumerate(most)
        ],
        release_min=np.array([_dry_at(floor, code) for code in filaments], dtype=np.int64),
        finish=np.array([hours.index(plant.material_of[code].spool_dry_h) for code in filaments], dtype=np.int64),
        items=items,
        crews=_crews(floor, until_min),
        purge=purge_of(floor, filaments, items=items),
        dryers=dryers_of(floor, filaments),
        finishing=finishing_of(floor, slack_min=slack_min),
    )
    return ListProblem(problem, filaments, tuple(plant.lines), state.supply.copy())


def _crews(floor: Floor, until_min: int) -> tuple[tuple[int, int, int], ...]:
    """Windows of the crews up to a minute; none where every line can have one."""
    windows = [window for window in floor.crews.windows or () if window[0] < until_min]
    return tuple(windows) if any(size < len(floor.plant.lines) for _, _, size in windows) else ()


def _line(
    floor: Floor, line: str, filaments: Sequence[str], *, arrival: Ints, until_min: int, price_per_min: float
) -> SearchLine:
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
        setups=_until(plant.changeover_spans[line], until_min),
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


def _arrival_days(plant: Plant, times: Sequence[ShelfTimes], *, slack_min: int) -> Ints:
    """Ship day of what is wound by each minute, for each drying time; past the last day nothing arrives."""
    minutes = np.arange(plant.end_min + int(AFTER_LAST_DAY.total_seconds() // 60)) + slack_min
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
    charge = floor.hoppers.best(floor.plant.material_of[filament], resin_kg=0.0, by_min=0)
    return max(floor.plant.usable_min[filament], 0 if charge is None else charge.ready_min)
