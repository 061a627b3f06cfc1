"""The order of the runs that wait for a line: moved by the planner, and timed by the floor as the list is.

A run that is not released stands behind the released runs of its line, because every new list begins behind them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import takewhile

from inventory.rules.texts import listed, text
from stockplan.planner.core.facts import CommittedRun, PlanFacts
from stockplan.planner.core.floor import TimedRun, lot_of_sizes
from stockplan.planner.core.made import Made
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.planning import rules_of
from stockplan.planner.core.plant import Plant, plant_of
from stockplan.planner.core.ranking import all_misses, day_weights
from stockplan.planner.core.supply import supply_state
from stockplan.planner.errors import PlanningError

Orders = Mapping[str, tuple[str, ...]]
# Ship days after the list's last one on which a released run may still begin: what is made later needs room.
SLIP_DAYS = 5


class RunOrderError(PlanningError):
    """The runs cannot be put into this order."""

    code = "run_order"


@dataclass(frozen=True)
class Waiting:
    """A run that has not started. `key` names it: its code where it is released.

    Parameters
    ----------
    lines
        Lines that can make it.
    pinned_to
        The line that the planner has fixed for its filament; None: any.
    """

    key: str
    filament: str
    line: str
    sizes: Mapping[str, int]
    is_released: bool
    lines: tuple[str, ...]
    pinned_to: str | None = None

    @property
    def name(self) -> str:
        """The run in a sentence."""
        return f"{self.key} ({self.filament})" if self.is_released else self.filament


@dataclass(frozen=True)
class Move:
    """A run gets a place among those that wait for a line, 1 for the next one; the others make room in their order."""

    key: str
    line: str
    place: int


def order_of(waiting: Sequence[Waiting]) -> dict[str, tuple[str, ...]]:
    """Return the keys by line, in the order in which the runs are given."""
    return {line: tuple(run.key for run in waiting if run.line == line) for line in sorted({r.line for r in waiting})}


def moved(waiting: Sequence[Waiting], moves: Sequence[Move], *, started: Collection[str]) -> dict[str, tuple[str, ...]]:
    """Return the keys by line with moves made all at once.

    Parameters
    ----------
    waiting
        Runs in their present order on each line.
    started
        Runs under way, which no move may name.

    Raises
    ------
    RunOrderError
        If a run is unknown, started or named twice, its line cannot make it, a place is not among those of its line or
        asked for twice, or a run that is not released would stand before one that is. Its pointer says which move.
    """
    runs = {run.key: run for run in waiting}
    for at, move in enumerate(moves):
        _check_run(runs, moves[:at], move, started=started, pointer=f"/moves/{at}")
    line_of = {run.key: run.line for run in waiting} | {move.key: move.line for move in moves}
    order = {}
    for line in sorted({*line_of.values(), *(run.line for run in waiting)}):
        keys = [run.key for run in waiting if line_of[run.key] == line]
        order[line] = _placed(keys, moves, line)
        _check_released_first(runs, order[line], moves, line)
    return order


def _check_run(
    runs: Mapping[str, Waiting], before: Sequence[Move], move: Move, *, started: Collection[str], pointer: str
) -> None:
    run = runs.get(move.key)
    if move.key in started:
        raise RunOrderError("Run {move} has started: it stays where it is.", move=move.key, pointer=f"{pointer}/place")
    if run is None:
        raise RunOrderError("No run {move} waits for a line.", move=move.key, pointer=pointer)
    if any(other.key == move.key for other in before):
        raise RunOrderError("{run} is moved twice.", run=run.name, pointer=pointer)
    if move.line not in run.lines:
        able = listed(run.lines) if run.lines else text("no line")
        raise RunOrderError(
            "{line} cannot make {filament}; {able} can.",
            line=move.line,
            filament=run.filament,
            able=able,
            pointer=f"{pointer}/line",
        )
    if run.pinned_to is not None and move.line != run.pinned_to:
        raise RunOrderError(
            "{filament} is pinned to {pinned_to}; withdraw that instruction first.",
            filament=run.filament,
            pinned_to=run.pinned_to,
            pointer=f"{pointer}/line",
        )


def _placed(keys: Sequence[str], moves: Sequence[Move], line: str) -> tuple[str, ...]:
    """Return the runs of a line, those that are moved to a place in it and the others around them."""
    taken: dict[int, str] = {}
    for at, move in enumerate(moves):
        if move.line != line:
            continue
        if not 1 <= move.place <= len(keys):
            what = text("place {n} alone", "places 1 to {n}", n=len(keys))
            raise RunOrderError(
                "{line} then has {what}, got {place}.",
                line=line,
                what=what,
                place=move.place,
                pointer=f"/moves/{at}/place",
            )
        if move.place in taken:
            raise RunOrderError(
                "Two runs are given place {place} on {line}; each place holds one.",
                place=move.place,
                line=line,
                pointer=f"/moves/{at}/place",
            )
        taken[move.place] = move.key
    others = iter([key for key in keys if key not in taken.values()])
    return tuple(taken[place] if place in taken else next(others) for place in range(1, len(keys) + 1))


def _check_released_first(runs: Mapping[str, Waiting], keys: Sequence[str], moves: Sequence[Move], line: str) -> None:
    flags = [runs[key].is_released for key in keys]
    if flags == sorted(flags, reverse=True):
        return
    # The run that was moved across the border: it comes too soon, or leaves its place to one that does.
    first = flags.index(False)
    wrong = {*keys[first : len(flags) - flags[::-1].index(True)]}
    at = next(at for at, move in enumerate(moves) if move.line == line and move.key in wrong)
    raise RunOrderError(
        "{filament} is not released: it stands behind the released runs of {line}. Release it first.",
        filament=runs[keys[first]].filament,
        line=line,
        pointer=f"/moves/{at}/place",
    )


def loosened(waiting: Sequence[Waiting], order: Orders) -> set[str]:
    """Return the released runs that must be timed anew: those of each line from the first place that changes."""
    released = {run.key for run in waiting if run.is_released}
    present, loose = order_of(waiting), set()
    for line in present.keys() | order.keys():
        was, now = present.get(line, ()), order.get(line, ())
        same = len(list(takewhile(lambda pair: pair[0] == pair[1], zip(was, now, strict=False))))
        loose |= {*was[same:], *now[same:]} & released
    return loose


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
    listed = plant_of(free.in_order())
    plant = plant_of(_with_room(free).in_order()) if loose else listed
    opening = opening_of(plant)
    before = supply_state(plant, opening)
    made = Made(opening, before, before, opening.floor, rules_of(plant), ())
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
    misses = float(all_misses(before.tables, made.state.supply, weights=day_weights(listed)).sum())
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
