"""The second tier behind the index: a list's first days searched, timed by the floor, then filled up by the index.

Only what starts within the next days is ever run as listed; farther ahead the index's guess is good enough, and a
search of fewer days comes nearer to their optimum with the same work. What the floor does not confirm as cheaper
by the search's measure is not taken.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import LineState, TimedRun
from stockplan.planner.core.list_costs import prices_of
from stockplan.planner.core.list_problem import list_problem
from stockplan.planner.core.made import Made
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.pinned import place_late, place_pinned
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.search.bound import lower_bound
from stockplan.planner.core.search.dispatch import best_start
from stockplan.planner.core.search.problem import Budget, Found, SearchPlan
from stockplan.planner.core.search.search import search
from stockplan.planner.core.selection import fill_lines
from stockplan.planner.core.sequence import affordable, sequences_of
from stockplan.planner.core.supply import supply_state

# Ship days that are searched, and those after them on which their last runs arrive.
SEARCH_DAYS, ARRIVAL_DAYS = 4, 2
# Where the floor finds a plan dearer than the search by more than this, as hoppers or materials are in its way, other
# searches are tried: the floor may have less against their plans.
CONFIRMED, SEEDS = 1.03, (1, 2, 3)


def improved(made: Made, near: Plant) -> Made:
    """Return the list with the search's lots on its first days where the floor confirms that it is then cheaper.

    Parameters
    ----------
    made
        What the index makes on the first days, and what is pinned.
    near
        The plant as a list of the first days alone sees it.
    """
    if not made.runs:
        return made
    opening = opening_of(near)
    floor, state = opening.floor, supply_state(near, opening)
    pinned = place_pinned(floor, state, rules=made.rules)
    found = list_problem(
        floor,
        state,
        allowed=made.rules.allowed,
        fixed=made.rules.exact.keys(),
        until_min=near.end_min,
        prices=prices_of(made.floor.plant),
    )
    farther = sequences_of([r for r in made.runs if r.lot.is_pinned and r.timing.start_min >= near.end_min])
    of_index = [r for r in _starting(made, near.end_min) if not r.lot.is_pinned]
    moves = near.facts.parameters.search_moves * len(near.filaments)
    start = best_start(found.problem, found.plan(sequences_of(of_index)))

    def cost(list_: Made) -> float:
        return found.cost(_starting(list_, near.end_min), list_.state.supply)

    def laid_out(plan: SearchPlan) -> Made:
        sequences, stores = sequences_of(pinned), floor.copy()
        for line, lots in found.sequences(plan).items():
            sequences[line] = [*sequences.get(line, ()), *affordable(stores, line, lots), *farther.get(line, ())]
        return made.laid_out(sequences)

    searches = (search(found.problem, start, budget=Budget(moves=moves, seed=seed)) for seed in SEEDS)
    return confirmed(made, searches, laid_out=laid_out, cost=cost)[0]


def confirmed(
    made: Made,
    searches: Iterable[Found],
    *,
    laid_out: Callable[[SearchPlan], Made],
    cost: Callable[[Made], float],
) -> tuple[Made, Found]:
    """Return the cheapest of a list and of searched ones on the floor, and the last search that was looked at.

    No further search is looked at as soon as the cheapest costs hardly more on the floor than the search says.
    """
    for found in searches:
        made = min(made, laid_out(found.plan), key=cost)
        if cost(made) <= CONFIRMED * found.cost:
            break
    return made, found


def first_days(facts: PlanFacts) -> PlanFacts:
    """Return the facts of a list of the first days alone; what is ordered for later days counts into the levels."""
    inside = sum(day <= facts.last_day for day in facts.days)
    days = min(SEARCH_DAYS, inside)
    seen = min(days + ARRIVAL_DAYS, len(facts.days))
    skus = tuple(
        replace(
            sku,
            due=sku.due[:seen],
            mean=sku.mean[:seen],
            variance=sku.variance[:seen],
            order_up_to=sku.order_up_to + sku.due[-1] - sku.due[seen - 1],
        )
        for sku in facts.skus
    )
    return replace(facts, days=facts.days[:seen], last_day=facts.days[days - 1], skus=skus)


def filled_up(made: Made, *, from_min: int, tick: Callable[[int], None] | None = None) -> Made:
    """Return the list filled up by the index from a minute on; what is late stays on it."""
    for line, at in made.floor.lines.items():
        made.floor.lines[line] = LineState(max(at.free_min, from_min), at.holds)
    rules = replace(made.rules, exact=dict.fromkeys(made.rules.exact, 0))
    runs = fill_lines(made.floor, made.state, rules=rules, tick=tick)
    runs += place_late(made.floor, made.state, rules=rules)
    return replace(made, runs=(*made.runs, *runs)).joined()


def _starting(made: Made, before_min: int) -> list[TimedRun]:
    return [run for run in made.runs if run.timing.start_min < before_min]


def least_misses(made: Made) -> float:
    """Return a number of misses that no list with the same pinned runs goes below."""
    plant = made.floor.plant
    if not plant.lines or not plant.facts.skus:
        return made.misses
    floor, state = made.opening.floor.copy(), supply_state(plant, made.opening, tables=made.before.tables)
    place_pinned(floor, state, rules=made.rules)
    # What is late may begin after the last day of the list.
    until_min = max([plant.end_min, *(run.timing.wind_min for run in made.runs)])
    found = list_problem(floor, state, allowed=made.rules.allowed, fixed=made.rules.exact.keys(), until_min=until_min)
    return lower_bound(found.problem, above=made.misses)
