"""The second tier behind the index: the list's lots improved by the compiled search, then timed by the floor again.

What the floor does not confirm as fewer misses is not taken, so a list is never worse by its own measure than the
index's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from stockplan.planner.core.drying import largest_charge_kg
from stockplan.planner.core.floor import Floor, Lot, TimedRun
from stockplan.planner.core.list_problem import ListProblem, list_problem
from stockplan.planner.core.made import Made
from stockplan.planner.core.materials import StoreBoard, needs_of
from stockplan.planner.core.pinned import place_late, place_pinned
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.search.bound import lower_bound
from stockplan.planner.core.search.problem import Budget
from stockplan.planner.core.search.search import search
from stockplan.planner.core.sequence import sequences_of
from stockplan.planner.core.supply import SupplyState, supply_state

ROUNDS = 3
# What a spool above its order-up-to level counts for each ship day, in misses: more than it could avoid.
ABOVE_LEVEL = 0.05
# Subgradient steps; more do not raise the bound of a list by a thousandth.
BOUND_STEPS = 30


def improved(made: Made) -> Made:
    """Return the list with the search's lots where the floor confirms that it then misses less."""
    plant = made.floor.plant
    moves = plant.facts.parameters.search_moves * len(plant.filaments)
    if moves == 0 or not made.runs:
        return made
    floor, state, pinned = _after_pinned(made)
    found = _problem(made, floor, state, price_per_min=_price_per_min(made), above_level=ABOVE_LEVEL)
    of_index = sequences_of([r for r in made.runs if not r.lot.is_pinned and r.timing.start_min < plant.end_min])
    plan = search(found.problem, found.plan(of_index), budget=Budget(moves=moves // ROUNDS, rounds=ROUNDS)).plan
    sequences = sequences_of(pinned)
    for line, lots in found.sequences(plan).items():
        cut = _affordable(plant, floor.store, line, floor.lines[line].holds, lots)
        sequences[line] = [*sequences.get(line, ()), *cut]
    return _better(made, sequences)


def least_misses(made: Made) -> float:
    """Return a number of misses that no list with the same pinned runs goes below."""
    if not made.floor.lines or not made.floor.plant.facts.skus:
        return made.misses
    floor, state, _ = _after_pinned(made)
    return lower_bound(_problem(made, floor, state).problem, above=made.misses, steps=BOUND_STEPS)


def _after_pinned(made: Made) -> tuple[Floor, SupplyState, list[TimedRun]]:
    """Return floor and supply with the pinned runs alone, and those."""
    plant = made.floor.plant
    floor, state = made.opening.floor.copy(), supply_state(plant, made.opening, tables=made.before.tables)
    return floor, state, place_pinned(floor, state, rules=made.rules)


def _problem(made: Made, floor: Floor, state: SupplyState, **prices: float) -> ListProblem:
    return list_problem(floor, state, allowed=sorted(made.rules.allowed), fixed=sorted(made.rules.exact), **prices)


def _better(made: Made, sequences: dict[str, list[Lot]]) -> Made:
    """Return the list laid out anew if it misses less and leaves out neither a pinned nor a late filament."""
    other = made.laid_out(sequences)
    after_pinned = replace(made.rules, exact=dict.fromkeys(made.rules.exact, 0))
    late = place_late(other.floor, other.state, rules=after_pinned)
    other = replace(other, runs=(*other.runs, *late)).joined()
    return other if other.misses < made.misses else made


def _price_per_min(made: Made) -> float:
    """What a minute is worth to later lists: the share of an average minute of this one at which lots end."""
    minutes = sum(run.timing.changeover_min + run.timing.run_min for run in made.runs)
    avoided = made.misses_of(made.opening.supply) - made.misses
    return made.floor.plant.facts.parameters.stop_share * avoided / minutes


def _affordable(plant: Plant, store: StoreBoard, line: str, holds: str | None, lots: Sequence[Lot]) -> list[Lot]:
    """Cut lots to what a hopper can dry and the store still holds; takes it off the store."""
    kept = []
    for lot in lots:
        dried = _hopper_share(plant, line, holds, lot)
        spools = store.affordable(plant, line, holds, lot.filament, dried)
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
