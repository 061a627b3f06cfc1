"""Each run of a list explained: what would run out, what it displaces, what a day costs, why this line and place.

The worths of the ranking add up to the list's total. What is said here does not: dropping one run, or having it a day
later, is reckoned with all the others in place.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from forecasting.messages import Message, counted, message
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
    sentences: tuple[Message, ...]


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
                message(
                    "With all other runs in place the list would miss {if_dropped:.2f} more without it, and "
                    "{day_later:.2f} more with its spools on the shelf a ship day later.",
                    if_dropped=float(if_dropped),
                    day_later=float(day_later),
                ),
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


def _runs_out(plan: Plan, listed: ListedRun, supply: Ints) -> Message:
    """Say which SKUs would run out when, with the runs of a better rank made."""
    plant, days, rank = plan.plant, plan.plant.facts.days, listed.after_rank
    skus = plant.skus_of[listed.ranked.run.lot.filament]
    short = [(day, plant.facts.skus[s].code) for s in skus if (day := short_day(plant, supply, s)) is not None]
    after = message("Without it") if rank is None else message("With rank {rank} but without it", rank=rank)
    if not short:
        return message("{after}, none of its SKUs is expected to run out by {day}.", after=after, day=days[-1])
    parts = tuple(
        message("on {day} of {skus}", day=days[day], skus=tuple(code for _, code in rows))
        for day, rows in itertools.groupby(sorted(short), key=lambda row: row[0])
    )
    return message("{after}, the shelf is expected to run out {parts}.", after=after, parts=parts)


def _avoids(plan: Plan, listed: ListedRun) -> Message:
    """Say how much each SKU has of what the run avoids."""
    ranked = listed.ranked
    codes = [plan.plant.facts.skus[s].code for s in plan.plant.skus_of[ranked.run.lot.filament]]
    rows = sorted(zip(ranked.avoided, ranked.run.lot.spools, codes, strict=True), key=lambda row: (-row[0], row[2]))
    parts = tuple(
        message("{misses:.2f} by {spools} of {sku}", misses=float(avoided), spools=int(spools), sku=code)
        for avoided, spools, code in rows
        if spools
    )
    return message("It avoids {misses:.2f} misses: {parts}.", misses=float(ranked.misses_avoided), parts=parts)


def _displaces(made: Made, run: TimedRun) -> Message:
    """Say what else the minutes could be used for."""
    other = next_best(made, run)
    if other is None:
        return message("Beyond what the list makes, no other filament is wanted of its line then.")
    return counted(
        "Beyond what the list makes, the next best use of its time is {n} spool of {filament}: {per_hour:.2f} misses "
        "avoided an hour.",
        "Beyond what the list makes, the next best use of its time is {n} spools of {filament}: {per_hour:.2f} misses "
        "avoided an hour.",
        n=int(sum(other.run.lot.spools)),
        filament=other.run.lot.filament,
        per_hour=float(other.worth_per_hour),
    )


def _why_line(plan: Plan, run: TimedRun) -> Message:
    """Say how long the other lines would take, and what they do at the time."""
    plant = plan.plant
    others = [line for line in plant.lines_for(run.lot.filament) if line != run.line]
    if not others:
        return message("No other line than {line} can make it.", line=run.line)
    parts = tuple(
        message(
            "{line} would take {hours:.1f} h and {does}",
            line=line,
            hours=plant.run_min(line, run.lot.filament, run.lot.spools) / 60,
            does=_does(plan, line, run),
        )
        for line in others
    )
    return message(
        "{line} winds it in {hours:.1f} h; {others}.", line=run.line, hours=run.timing.run_min / 60, others=parts
    )


def _does(plan: Plan, line: str, run: TimedRun) -> Message:
    """Say what a line is doing when a run begins."""
    minute = run.timing.start_min
    there = [other.ranked for other in plan.runs if other.ranked.run.line == line]
    busy = next((r for r in there if r.run.timing.start_min <= minute < r.run.timing.end_min), None)
    if busy is not None:
        return message("makes {filament} then (rank {rank})", filament=busy.run.lot.filament, rank=busy.rank)
    is_committed = minute < plan.opening.floor.lines[line].free_min
    return message("has a released run then") if is_committed else message("is free then")


def _why_place(plan: Plan, run: TimedRun) -> Message:
    """Say what the changeover takes here, and after the other runs of its line."""
    plant, timing = plan.plant, run.timing
    if timing.changeover_from is None:
        return message("{line} is clean before it: no changeover.", line=run.line)
    others = {r.ranked.run.lot.filament for r in plan.runs if r.ranked.run.line == run.line}
    minutes = sorted(
        int(plant.changeover_min(run.line, other, run.lot.filament))
        for other in others - {run.lot.filament, timing.changeover_from}
    )
    here = message(
        "After {filament} the changeover takes {minutes} min",
        filament=timing.changeover_from,
        minutes=int(timing.changeover_min),
    )
    if not minutes:
        return message("{here}.", here=here)
    least, most = minutes[0], minutes[-1]
    span = message("{least} to {most}", least=least, most=most) if least < most else least
    return message(
        "{here}; after the other filaments of {line} on this list it would take {span} min.",
        here=here, line=run.line, span=span,
    )  # fmt: skip
