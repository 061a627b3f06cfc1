"""Which filaments are not on the list, and why; which runs only lack their materials."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from forecasting.messages import Message, message
from stockplan.planner.core.explanation import (
    blocked_reason,
    enough_sentence,
    no_room_sentence,
    not_worth_later_sentence,
    not_worth_sentence,
    waits_sentence,
)
from stockplan.planner.core.floor import Floor, Lot
from stockplan.planner.core.made import Made
from stockplan.planner.core.materials import Missing, StoreBoard, missing_of, needs_of
from stockplan.planner.core.outlook import Need, need_of
from stockplan.planner.core.ranking import RankedRun
from stockplan.planner.core.rivals import exchanged, rival_of
from stockplan.planner.core.selection import Decision, Offer, Rules, lot_of, offer_of, wanted
from stockplan.planner.core.supply import SupplyState


class Cause(StrEnum):
    ENOUGH = "enough"
    BLOCKED = "blocked"
    NOT_WORTH = "not_worth"
    NO_ROOM = "no_room"
    FORBIDDEN = "forbidden"
    NO_LINE = "no_line"


@dataclass(frozen=True)
class BlockedRun:
    """A run that would be worth listing if its materials were there. As things stand it avoids nothing."""

    lot: Lot
    missing: tuple[Missing, ...]
    out_on: int | None
    would_avoid_per_hour: float
    reason: Message


@dataclass(frozen=True)
class LeftOut:
    """A filament that is not on the list."""

    filament: str
    cause: Cause
    sentence: Message


def left_out(made: Made, order: Sequence[RankedRun]) -> tuple[tuple[BlockedRun, ...], tuple[LeftOut, ...]]:
    """Say of every filament that is not made why.

    Parameters
    ----------
    order
        The list's runs by worth.
    """
    floor = _floor_at_first(made)
    blocked: list[BlockedRun] = []
    others: list[LeftOut] = []
    for filament in _not_made(made):
        found = _why(made, order, floor, filament)
        if isinstance(found, BlockedRun):
            blocked.append(found)
        else:
            others.append(found)
    blocked.sort(key=lambda run: (-run.would_avoid_per_hour, run.lot.filament))
    return tuple(blocked), tuple(others)


def with_exchanges(made: Made) -> Made:
    """Return the list with a run given up for a filament without a place wherever it then misses less.

    The filaments worth most come first; each is tried once, in the place where it gains most.
    """
    floor, least = _floor_at_first(made), made.floor.plant.facts.parameters.least_worth_per_h
    found = [(f, _best_offer(floor, made, f)) for f in _not_made(made) if f in made.rules.allowed]
    waiting = [(-best[0].worth_per_min, f) for f, best in found if best and best[0].worth_per_min * 60 >= least]
    for _, filament in sorted(waiting):
        rival = rival_of(made, made.ranked(), filament)
        if rival is not None and rival.gain_per_hour > 0:
            other = exchanged(made, rival)
            made = other if other.misses < made.misses else made
    return made


def _not_made(made: Made) -> list[str]:
    on_list = {run.lot.filament for run in made.runs}
    return [filament for filament in made.floor.plant.filaments if filament not in on_list]


def _floor_at_first(made: Made) -> Floor:
    """Return the floor as the list began, with every material there."""
    floor = made.opening.floor.copy()
    floor.store = StoreBoard({})
    return floor


def _why(made: Made, order: Sequence[RankedRun], floor: Floor, filament: str) -> BlockedRun | LeftOut:
    plant, need = floor.plant, need_of(floor.plant, made.opening.supply, filament)
    if not plant.lines_for(filament):
        return LeftOut(filament, Cause.NO_LINE, message("No line has a speed entered for it."))
    if filament not in made.rules.allowed:
        return LeftOut(filament, Cause.FORBIDDEN, message("Forbidden by the planner."))
    best = _best_offer(floor, made, filament)
    if best is None:
        return _no_lot(floor, made.before, filament, need=need, rules=made.rules)
    offer, decision = best
    per_hour = offer.worth_per_min * 60
    if per_hour < plant.facts.parameters.least_worth_per_h:
        return LeftOut(filament, Cause.NOT_WORTH, not_worth_sentence(plant, per_hour, need.out_on))
    lot, store = lot_of(plant, offer, price_per_min=0.0), made.floor.store
    holds = floor.lines[decision.line].holds
    short = store.short_of(needs_of(plant, decision.line, holds, filament, lot.spools))
    one_more = tuple(min(n, 1) for n in lot.spools)
    if short and not any(store.affordable(plant, decision.line, holds, filament, one_more)):
        return _blocked(floor, lot, short, need, per_hour)
    return _no_room(made, order, filament, need=need)


def _no_room(made: Made, order: Sequence[RankedRun], filament: str, *, need: Need) -> LeftOut:
    """Say which run takes the time, what the filament would be worth in its place, and what the list would lose."""
    plant, least = made.floor.plant, made.floor.plant.facts.parameters.least_worth_per_h
    later = _best_offer(made.floor, made, filament)
    if later is not None and later[1].minute < plant.end_min and later[0].worth_per_min * 60 < least:
        sentence = not_worth_later_sentence(plant, later[1], later[0].worth_per_min * 60)
        return LeftOut(filament, Cause.NOT_WORTH, sentence)
    rival = rival_of(made, order, filament)
    more = exchanged(made, rival).misses - made.misses if rival is not None and rival.gain_per_hour > 0 else None
    return LeftOut(filament, Cause.NO_ROOM, no_room_sentence(plant, rival, more, out_on=need.out_on))


def _no_lot(floor: Floor, state: SupplyState, filament: str, *, need: Need, rules: Rules) -> LeftOut:
    """Say that nothing lacks, or so little that it waits."""
    line = floor.plant.lines_for(filament)[0]
    minute = floor.next_decision(line)
    lacking = 0 if minute is None else sum(wanted(floor, state, Decision(line, filament, minute), rules=rules))
    if lacking:
        return LeftOut(filament, Cause.NOT_WORTH, waits_sentence(floor.plant, lacking, need.out_on))
    return LeftOut(filament, Cause.ENOUGH, enough_sentence(floor.plant, need.out_on))


def _best_offer(floor: Floor, made: Made, filament: str) -> tuple[Offer, Decision] | None:
    """Return the best lot on any line as the lines of a floor stand; None if no spool is wanted."""
    options = []
    for line in floor.plant.lines_for(filament):
        minute = floor.next_decision(line)
        if minute is not None:
            decision = Decision(line, filament, minute)
            offer = offer_of(floor, made.before, decision, rules=made.rules)
            if offer is not None:
                options.append((offer, decision))
    return max(options, key=lambda option: option[0].worth_per_min, default=None)


def _blocked(floor: Floor, lot: Lot, short: Mapping[str, float], need: Need, per_hour: float) -> BlockedRun:
    facts = floor.plant.facts
    needed_on = facts.first_day if need.out_on is None else max(facts.days[need.out_on], facts.first_day)
    missing = missing_of(short, store={i.code: i for i in facts.store}, first_day=facts.first_day, needed_on=needed_on)
    reason = blocked_reason(floor.plant, need=need, per_hour=per_hour, missing=missing)
    return BlockedRun(lot, missing, need.out_on, per_hour, reason)
