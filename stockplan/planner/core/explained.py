"""Each run of a list explained: what would run out, what it displaces, what a day costs, why this line and place.

The worths of the ranking add up to the list's total. What is said here does not: dropping one run, or having it a day
later, is reckoned with all the others in place.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from stockplan.planner.core.explanation import day_text
from stockplan.planner.core.finishing import Arrival
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.made import Made
from stockplan.planner.core.outlook import short_day
from stockplan.planner.core.planning import ListedRun, Plan
from stockplan.planner.core.ranking import day_weights, with_arrivals
from stockplan.planner.core.rivals import next_best
from stockplan.planner.core.shortage import Ints


@dataclass(frozen=True)
class Explanation:
    """What one run is for.

    Parameters
    ----------
    if_dropped, day_later
        Misses more with all other runs in place: without this one, and with its spools on the shelf a ship day later.
    """

    if_dropped: float
    day_later: float
    sentences: tuple[str, ...]


def explanations(plan: Plan) -> Iterator[Explanation]:
    """Explain every run of a list, in the order of their ranks."""
    made, supply = plan.made, plan.opening.supply.copy()
    for listed in plan.runs:
        run = listed.ranked.run
        if_dropped, day_later = _more_misses(made, run, _without), _more_misses(made, run, _a_day_later)
        yield Explanation(
            if_dropped=if_dropped,
            day_later=day_later,
            sentences=(
                _runs_out(plan, listed, supply),
                _avoids(plan, listed),
                f"With all other runs in place the list would miss {if_dropped:.2f} more without it, and "
                f"{day_later:.2f} more with its spools on the shelf a ship day later.",
                _displaces(made, run),
                _why_line(plan, run),
                _why_place(plan, run),
            ),
        )
        for s, arrivals in zip(plan.plant.skus_of[run.lot.filament], run.arrivals, strict=True):
            supply[s] = with_arrivals(supply[s], arrivals)


def _more_misses(made: Made, run: TimedRun, change: Callable[[Ints, tuple[Arrival, ...]], Ints]) -> float:
    """Return the misses that the list would have more with the supply of each SKU of a run changed."""
    plant = made.floor.plant
    tables, weights = made.before.tables, day_weights(plant)
    return sum(
        tables[s].total(change(made.state.supply[s], arrivals), weights=weights)
        - tables[s].total(made.state.supply[s], weights=weights)
        for s, arrivals in zip(plant.skus_of[run.lot.filament], run.arrivals, strict=True)
    )


def _without(supply: Ints, arrivals: tuple[Arrival, ...]) -> Ints:
    return 2 * supply - with_arrivals(supply, arrivals)


def _a_day_later(supply: Ints, arrivals: tuple[Arrival, ...]) -> Ints:
    later = supply.copy()
    for arrival in arrivals:
        later[arrival.day : arrival.day + 1] -= arrival.spools
    return later


def _runs_out(plan: Plan, listed: ListedRun, supply: Ints) -> str:
    """Say which SKUs would run out when, with the runs of a better rank made."""
    plant, days = plan.plant, plan.plant.facts.days
    skus = plant.skus_of[listed.ranked.run.lot.filament]
    short = [(day, plant.facts.skus[s].code) for s in skus if (day := short_day(plant, supply, s)) is not None]
    after = "Without it" if listed.after_rank is None else f"With rank {listed.after_rank} but without it"
    if not short:
        return f"{after}, none of its SKUs is expected to run out by {day_text(days[-1])}; they are below their levels."
    parts = [
        f"{day_text(days[day])} of {_listing([code for _, code in rows])}"
        for day, rows in itertools.groupby(sorted(short), key=lambda row: row[0])
    ]
    return f"{after}, the shelf is expected to run out on {', on '.join(parts)}."


def _avoids(plan: Plan, listed: ListedRun) -> str:
    """Say how much each SKU has of what the run avoids."""
    ranked = listed.ranked
    codes = [plan.plant.facts.skus[s].code for s in plan.plant.skus_of[ranked.run.lot.filament]]
    rows = sorted(zip(ranked.avoided, ranked.run.lot.spools, codes, strict=True), key=lambda row: (-row[0], row[2]))
    parts = [f"{avoided:.2f} by {spools} of {code}" for avoided, spools, code in rows if spools]
    return f"It avoids {ranked.misses_avoided:.2f} misses: {_listing(parts)}."


def _displaces(made: Made, run: TimedRun) -> str:
    """Say what else the minutes could be used for."""
    other = next_best(made, run)
    if other is None:
        return "Beyond what the list makes, no other filament is wanted of its line then."
    spools = sum(other.run.lot.spools)
    what = f"{spools} {'spool' if spools == 1 else 'spools'} of {other.run.lot.filament}"
    return (
        f"Beyond what the list makes, the next best use of its time is {what}: {other.worth_per_hour:.2f} misses "
        "avoided an hour."
    )


def _why_line(plan: Plan, run: TimedRun) -> str:
    """Say how long the other lines would take, and what they do at the time."""
    plant = plan.plant
    others = [line for line in plant.lines_for(run.lot.filament) if line != run.line]
    if not others:
        return f"No other line than {run.line} can make it."
    parts = [
        f"{line} would take {minutes / 60:.1f} h and {_does(plan, line, run)}"
        for line in others
        for minutes in [plant.run_min(line, run.lot.filament, run.lot.spools)]
    ]
    return f"{run.line} winds it in {run.timing.run_min / 60:.1f} h; {_listing(parts)}."


def _does(plan: Plan, line: str, run: TimedRun) -> str:
    """Say what a line is doing when a run begins."""
    minute = run.timing.start_min
    there = [other.ranked for other in plan.runs if other.ranked.run.line == line]
    busy = next((r for r in there if r.run.timing.start_min <= minute < r.run.timing.end_min), None)
    if busy is not None:
        return f"makes {busy.run.lot.filament} then (rank {busy.rank})"
    is_committed = minute < plan.opening.floor.lines[line].free_min
    return "has a released run then" if is_committed else "is free then"


def _why_place(plan: Plan, run: TimedRun) -> str:
    """Say what the changeover takes here, and after the other runs of its line."""
    plant, timing = plan.plant, run.timing
    if timing.changeover_from is None:
        return f"{run.line} is clean before it: no changeover."
    others = {r.ranked.run.lot.filament for r in plan.runs if r.ranked.run.line == run.line}
    minutes = sorted(
        plant.changeover_min(run.line, other, run.lot.filament)
        for other in others - {run.lot.filament, timing.changeover_from}
    )
    here = f"After {timing.changeover_from} the changeover takes {timing.changeover_min} min"
    if not minutes:
        return f"{here}."
    span = f"{minutes[0]}" if minutes[0] == minutes[-1] else f"{minutes[0]} to {minutes[-1]}"
    return f"{here}; after the other filaments of {run.line} on this list it would take {span} min."


def _listing(parts: list[str]) -> str:
    """Join the parts of a sentence."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
