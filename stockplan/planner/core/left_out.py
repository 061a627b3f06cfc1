"""Which filaments are not on the list, and why; which runs only lack their materials."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from stockplan.planner.core.explanation import (
    blocked_reason,
    enough_sentence,
    no_room_sentence,
    not_worth_sentence,
    waits_sentence,
)
from stockplan.planner.core.floor import Floor, Lot
from stockplan.planner.core.materials import Missing, StoreBoard, missing_of, needs_of
from stockplan.planner.core.opening import Opening
from stockplan.planner.core.outlook import Need, need_of
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
    reason: str


@dataclass(frozen=True)
class LeftOut:
    """A filament that is not on the list."""

    filament: str
    cause: Cause
    sentence: str


def left_out(
    opening: Opening, state: SupplyState, *, store: StoreBoard, rules: Rules, made: Collection[str]
) -> tuple[tuple[BlockedRun, ...], tuple[LeftOut, ...]]:
    """Say of every filament that is not made why, as the lines stood when the list began.

    Parameters
    ----------
    state
        Supply before the list.
    store
        What the listed runs leave in the store.
    made
        Filaments on the list.
    """
    floor = replace_store(opening.floor, StoreBoard({}))
    blocked: list[BlockedRun] = []
    others: list[LeftOut] = []
    for filament in floor.plant.filaments:
        if filament in made:
            continue
        need = need_of(floor.plant, opening, filament)
        found = _why(floor, state, filament, need=need, store=store, rules=rules)
        if isinstance(found, BlockedRun):
            blocked.append(found)
        else:
            others.append(found)
    blocked.sort(key=lambda run: (-run.would_avoid_per_hour, run.lot.filament))
    return tuple(blocked), tuple(others)


def replace_store(floor: Floor, store: StoreBoard) -> Floor:
    """Return a copy of a floor with another store."""
    copy = floor.copy()
    copy.store = store
    return copy


def _why(
    floor: Floor, state: SupplyState, filament: str, *, need: Need, store: StoreBoard, rules: Rules
) -> BlockedRun | LeftOut:
    plant = floor.plant
    if not plant.lines_for(filament):
        return LeftOut(filament, Cause.NO_LINE, "No line has a speed entered for it.")
    if filament not in rules.allowed:
        return LeftOut(filament, Cause.FORBIDDEN, "Forbidden by the planner.")
    best = _best_offer(floor, state, filament, rules)
    if best is None:
        return _no_lot(floor, state, filament, need=need, rules=rules)
    offer, decision = best
    per_hour = offer.worth_per_min * 60
    if per_hour < plant.facts.parameters.least_worth_per_h:
        return LeftOut(filament, Cause.NOT_WORTH, not_worth_sentence(plant, per_hour, need.out_on))
    lot = lot_of(plant, offer, price_per_min=0.0)
    needs = needs_of(plant, decision.line, floor.lines[decision.line].holds, filament, lot.spools)
    short = store.short_of(needs)
    one_more = tuple(min(n, 1) for n in lot.spools)
    holds = floor.lines[decision.line].holds
    if short and not any(store.affordable(plant, decision.line, holds, filament, one_more)):
        return _blocked(floor, lot, short, need, per_hour)
    return LeftOut(filament, Cause.NO_ROOM, no_room_sentence(plant, per_hour, need.out_on))


def _no_lot(floor: Floor, state: SupplyState, filament: str, *, need: Need, rules: Rules) -> LeftOut:
    """Say that nothing lacks, or so little that it waits."""
    line = floor.plant.lines_for(filament)[0]
    minute = floor.next_decision(line)
    lacking = 0 if minute is None else sum(wanted(floor, state, Decision(line, filament, minute), rules=rules))
    if lacking:
        return LeftOut(filament, Cause.NOT_WORTH, waits_sentence(floor.plant, lacking, need.out_on))
    return LeftOut(filament, Cause.ENOUGH, enough_sentence(floor.plant, need.out_on))


def _best_offer(floor: Floor, state: SupplyState, filament: str, rules: Rules) -> tuple[Offer, Decision] | None:
    """Return the best lot on any line as the lines stand, materials apart; None if no spool is wanted."""
    options = []
    for line in floor.plant.lines_for(filament):
        minute = floor.next_decision(line)
        if minute is not None:
            decision = Decision(line, filament, minute)
            offer = offer_of(floor, state, decision, rules=rules)
            if offer is not None:
                options.append((offer, decision))
    return max(options, key=lambda option: option[0].worth_per_min, default=None)


def _blocked(floor: Floor, lot: Lot, short: Mapping[str, float], need: Need, per_hour: float) -> BlockedRun:
    facts = floor.plant.facts
    needed_on = facts.first_day if need.out_on is None else max(facts.days[need.out_on], facts.first_day)
    missing = missing_of(short, store={i.code: i for i in facts.store}, first_day=facts.first_day, needed_on=needed_on)
    reason = blocked_reason(floor.plant, need=need, per_hour=per_hour, missing=missing)
    return BlockedRun(lot, missing, need.out_on, per_hour, reason)
