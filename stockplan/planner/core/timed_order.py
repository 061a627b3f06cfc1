"""What an order of the runs that wait for a line comes to: timed by the floor as the list is."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from stockplan.planner.core.facts import CommittedRun, PlanFacts
from stockplan.planner.core.floor import TimedRun, lot_of_sizes
from stockplan.planner.core.planning import nothing_made
from stockplan.planner.core.plant import Plant, plant_of
from stockplan.planner.core.ranking import all_misses, day_weights
from stockplan.planner.core.run_order import Orders, RunOrderError, Waiting, loosened

# Ship days after the list's last one on which a released run may still begin: what is made later needs room.
SLIP_DAYS = 5


@dataclass(frozen=True)
class TimedOrder:
    """Runs in an order, as the floor times them.

    Parameters
    ----------
    runs
        By key; runs that could only begin after the last day of the list are not in it.
    loose
        Released runs among them that are timed anew.
    changeover_min, purge_kg
        Of all lines, from what each holds to its last run.
    """

    plant: Plant
    runs: Mapping[str, TimedRun]
    loose: frozenset[str]
    misses: float
    changeover_min: int
    purge_kg: float

    def purge_of(self, key: str) -> float:
        """Return the mass that is purged before a run."""
        run = self.runs[key]
        return self.plant.purge_kg(run.line, run.timing.changeover_from, run.lot.filament)


def timed_order(facts: PlanFacts, waiting: Sequence[Waiting], order: Orders, *, loose: Collection[str]) -> TimedOrder:
    """Time runs in an order: the released ones that are not `loose` as they are planned, all others by the floor.

    Parameters
    ----------
    facts
        As of now, with every released run.

    Raises
    ------
    RunOrderError
        If a released run would find no working time on its line within the days of the list and `SLIP_DAYS` more.
    """
    free = _without(facts, loose)
    of_list = plant_of(free.in_order())
    plant = plant_of(_with_room(free).in_order()) if loose else of_list
    made = nothing_made(plant)
    runs = {run.key: run for run in waiting}
    lots = {
        key: lot_of_sizes(plant, runs[key].filament, runs[key].sizes, is_pinned=True)
        for keys in order.values()
        for key in keys
        if key in loose or not runs[key].is_released
    }
    made = made.laid_out({line: [lots[key] for key in keys if key in lots] for line, keys in order.items()})
    timed = {key: run for key, lot in lots.items() for run in made.runs if run.lot is lot}
    for key in sorted(set(loose) - timed.keys()):
        raise RunOrderError(
            "{run} would find no working time by {last_day}.", run=runs[key].name, last_day=plant.facts.last_day
        )
    minutes, purge_kg = _changeovers(plant, facts.committed, runs, order)
    # Counted as the list counts, however far the floor had to look.
    misses = float(all_misses(made.before.tables, made.state.supply, weights=day_weights(of_list)).sum())
    return TimedOrder(plant, timed, frozenset(loose), misses, minutes, purge_kg)


def timed_anew(facts: PlanFacts, waiting: Sequence[Waiting], order: Orders) -> TimedOrder:
    """Time an order, its released runs anew from the first place that changes on their line.

    Lines share hoppers and crews, and a hopper is kept for what stays as it is planned until that has run. So the later
    released runs of the other lines are timed anew as well where that alone finds working time, or where it avoids
    more than the plant's price for each of them that moves.

    Raises
    ------
    RunOrderError
        If a released run would find no working time on its line, as `timed_order` does.
    """
    near = loosened(waiting, order)
    planned = {run.code: run.planned_start for run in facts.committed}
    first = min((planned[key] for key in near), default=facts.as_of)
    others = {run.key for run in waiting if run.is_released and planned[run.key] >= first} - near if near else set()
    found = []
    for loose in (near, near | others) if others else (near,):
        with suppress(RunOrderError):
            found.append(timed_order(facts, waiting, order, loose=loose))
    if not found:
        return timed_order(facts, waiting, order, loose=near | others)

    def cost(timed: TimedOrder) -> float:
        starts = {key: timed.runs[key].timing.start_min for key in others & timed.loose}
        # Plans stand by the second, the floor's times by the minute.
        n = sum(abs(start - timed.plant.clock.minute(planned[key])) > 1 for key, start in starts.items())
        return timed.misses + n * facts.parameters.moved_run_price

    return min(found, key=cost)


def _with_room(facts: PlanFacts) -> PlanFacts:
    at = sum(day <= facts.last_day for day in facts.days) - 1
    return replace(facts, last_day=facts.days[min(at + SLIP_DAYS, len(facts.days) - 1)])


def _without(facts: PlanFacts, loose: Collection[str]) -> PlanFacts:
    """Return facts in which some released runs are not planned; resin that dries for them stays in its hopper."""
    gone = [run for run in facts.committed if run.code in loose]
    materials = {filament.code: filament.traits.material for filament in facts.filaments}
    loads = dict(_loads(facts, gone))
    return replace(
        facts,
        committed=tuple(run for run in facts.committed if run.code not in loose),
        hoppers=tuple(
            replace(
                hopper,
                holds_material=materials[loads[hopper.code].filament],
                dried_since=loads[hopper.code].drying_from,
            )
            if hopper.code in loads
            else hopper
            for hopper in facts.hoppers
        ),
    )


def _loads(facts: PlanFacts, runs: Sequence[CommittedRun]) -> Iterator[tuple[str, CommittedRun]]:
    """Hoppers that are loaded for some runs by now, each with the run that it was loaded for last."""
    begun = [run for run in runs if run.drying_from is not None and run.drying_from <= facts.as_of]
    for run in sorted(begun, key=lambda run: (run.drying_from, run.planned_start)):
        if run.hopper is not None:
            yield run.hopper, run


def _changeovers(
    plant: Plant, committed: Sequence[CommittedRun], runs: Mapping[str, Waiting], order: Orders
) -> tuple[int, float]:
    """Return the minutes and the purge of all lines, by the order alone."""
    under_way = {run.line: run.filament for run in committed if run.is_started}
    minutes, purge_kg = 0, 0.0
    for line, keys in order.items():
        holds = under_way.get(line, plant.lines[line].holds)
        for key in keys:
            minutes += plant.changeover_min(line, holds, runs[key].filament)
            purge_kg += plant.purge_kg(line, holds, runs[key].filament)
            holds = runs[key].filament
    return minutes, purge_kg
