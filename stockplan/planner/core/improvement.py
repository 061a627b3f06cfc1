"""The second tier behind the index: a list's first days searched, timed by the floor, then its later days.

Only what starts within the next days is ever run as listed, and a search of fewer days comes nearer to their optimum
with the same work; so the later days are searched by themselves, behind what the first ones leave. What the floor does
not confirm as cheaper by the search's measure is not taken.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import Floor, LineState
from stockplan.planner.core.list_costs import Prices, prices_of
from stockplan.planner.core.list_problem import ListProblem, list_problem
from stockplan.planner.core.made import Made
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.pinned import place_late, place_pinned
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.search.bound import lower_bound
from stockplan.planner.core.search.dispatch import best_start
from stockplan.planner.core.search.problem import SearchPlan
from stockplan.planner.core.search.search import search_on_floor
from stockplan.planner.core.selection import Rules, fill_lines
from stockplan.planner.core.sequence import affordable, sequences_of
from stockplan.planner.core.steadiness import Stretch, list_before
from stockplan.planner.core.supply import SupplyState, supply_state

# Ship days that are searched, and those after them on which their last runs arrive.
SEARCH_DAYS, ARRIVAL_DAYS = 4, 2
# A list whose lots end to the minute of an oven load is upset by the first minute that is lost.
SLACK_MIN = 15


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
    found = _problem(floor, state, rules=made.rules, until_min=near.end_min, prices=prices_of(made.floor.plant))
    farther = sequences_of([r for r in made.runs if r.lot.is_pinned and r.timing.start_min >= near.end_min])

    def laid_out(plan: SearchPlan) -> Made:
        sequences, stores = sequences_of(pinned), floor.copy()
        for line, lots in found.sequences(plan).items():
            sequences[line] = [*sequences.get(line, ()), *affordable(stores, line, lots), *farther.get(line, ())]
        return made.laid_out(sequences)

    stretch = Stretch(near, found, 0, near.end_min, laid_out)
    return _searched(made, stretch, best_start(found.problem, _not_pinned(made, stretch)))


def filled_up(made: Made, *, from_min: int, tick: Callable[[int], None] | None = None) -> Made:
    """Return the list filled up from a minute on, by the index or by the search; what is late stays on it."""
    plant, behind = made.floor.plant, _held(made, from_min)
    by_index = _filled(behind, tick=tick)
    if from_min >= plant.end_min:
        return by_index
    found = _problem(behind.floor, behind.state, rules=made.rules, until_min=plant.end_min, prices=prices_of(plant))

    def laid_out(plan: SearchPlan) -> Made:
        stores = behind.floor.copy()
        lots = {line: affordable(stores, line, lots) for line, lots in found.sequences(plan).items()}
        return _filled(behind.followed_by(lots))

    stretch = Stretch(plant, found, from_min, plant.end_min, laid_out)
    return _searched(by_index, stretch, _not_pinned(by_index, stretch))


def _searched(made: Made, stretch: Stretch, start: SearchPlan) -> Made:
    """Return the cheapest of a list, of a search, and of the list before with what pays to be changed.

    Where there is no list before, a second search stands in its place: each ends a few per cent beside the best.
    """
    moves, before = stretch.moves, list_before(stretch, made)

    def anew(*seeds: int) -> list[Made]:
        problem = stretch.problem.problem
        found = search_on_floor(problem, start, moves=moves, seeds=seeds, laid_out=stretch.laid_out, cost=stretch.cost)
        return [laid for _, laid in found]

    if before is None:
        return _descended(min((made, *anew(1, 2)), key=stretch.cost), stretch, cost=stretch.cost)
    with ThreadPoolExecutor() as pool:
        kept = pool.submit(stretch.descended, before.lots, price=before.price)
        lists = (made, *anew(1))
    new, old = min(lists, key=before.charged), min((stretch.laid_out(before.lots), kept.result()), key=before.charged)
    return old if before.charged(old) <= before.charged(new) else _descended(new, stretch, cost=before.charged)


def _descended(made: Made, stretch: Stretch, *, cost: Callable[[Made], float]) -> Made:
    """Return a list with all that pays to be changed, so that the next one on the same facts changes nothing."""
    lots = _not_pinned(made, stretch)
    return min((made, stretch.descended(lots, price=stretch.price(made))), key=cost)


def _problem(floor: Floor, state: SupplyState, *, rules: Rules, until_min: int, prices: Prices) -> ListProblem:
    return list_problem(
        floor,
        state,
        allowed=rules.allowed,
        fixed=rules.exact.keys(),
        until_min=until_min,
        prices=prices,
        slack_min=SLACK_MIN,
    )


def _not_pinned(made: Made, stretch: Stretch) -> SearchPlan:
    """Return the lots of a list on the days of a stretch as a plan, but for those that are pinned."""
    return stretch.problem.plan(sequences_of([run for run in stretch.starting(made) if not run.lot.is_pinned]))


def _held(made: Made, until_min: int) -> Made:
    """Return the list with lines that begin no further run before a minute."""
    held = made.followed_by({})
    for line, at in held.floor.lines.items():
        held.floor.lines[line] = LineState(max(at.free_min, until_min), at.holds)
    return held


def _filled(made: Made, *, tick: Callable[[int], None] | None = None) -> Made:
    """Return the list filled up by the index behind its runs; what is late stays on it."""
    full = made.followed_by({})
    rules = replace(made.rules, exact=dict.fromkeys(made.rules.exact, 0))
    runs = fill_lines(full.floor, full.state, rules=rules, tick=tick)
    runs += place_late(full.floor, full.state, rules=rules)
    return replace(full, runs=(*full.runs, *runs)).joined()


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
