"""The index: what each line should run next, chosen again and again until the days are full.

At each decision of a line every filament that it can make is offered as a lot. A lot's index is the misses that it
avoids per minute, over its best length, of the time until it is wound: waiting for dry resin, changeover from what the
line holds then, start-up, winding, and a charge for the way back where the material changes. The highest index is
made. Its lot goes on while the next spool is worth at least `stop_share` of the best use of the minute elsewhere, and
never beyond the order-up-to level. A filament whose lot would be short waits, unless a size is likely to run out.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from stockplan.planner.core.candidates import SpoolLadder, best_rate, economic_length
from stockplan.planner.core.drying import largest_charge_kg
from stockplan.planner.core.floor import Floor, LineState, Lot, TimedRun, Timing
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.shortlist import guesses
from stockplan.planner.core.supply import SupplyState

# A line for which nothing is worth its changeover looks again after so many minutes.
LOOK_AGAIN_MIN = 240
# A size is likely to run out if so many standard deviations above the mean it would, so many days after the arrival.
LIKELY_SD = 1.3
LIKELY_DAYS = 2
# The best offer, and the one that sets the price of a minute elsewhere.
OFFERS = 2


@dataclass(frozen=True)
class Rules:
    """What is decided beforehand.

    Parameters
    ----------
    allowed
        Filaments that may be made.
    exact
        Spools of single SKUs (by index) that the planner fixed.
    least_min
        Winding minutes of the least lot of each filament that some line can make.
    """

    allowed: Collection[str]
    exact: Mapping[int, int]
    least_min: Mapping[str, float]


@dataclass(frozen=True)
class Decision:
    """A filament considered as the next run of a line that decides at a minute."""

    line: str
    filament: str
    minute: int


@dataclass(frozen=True)
class Offer:
    """A filament as a candidate: its worth per minute over the best length of its ladder."""

    filament: str
    worth_per_min: float
    length: int
    ladder: SpoolLadder

    @property
    def minutes_of_length(self) -> float:
        """Winding minutes of the best length."""
        return float(self.ladder.total_minutes[self.length - 1]) if self.length else 0.0


def fill_lines(
    floor: Floor,
    state: SupplyState,
    *,
    rules: Rules,
    until_min: int | None = None,
    tick: Callable[[int], None] | None = None,
) -> list[TimedRun]:
    """Choose runs for every line until its last day is full or nothing is worth a run.

    Parameters
    ----------
    floor, state
        Written on.
    until_min
        Minute before which the last run is decided; None: the end of the list.
    tick
        Called with the minute of each decision, to show progress.
    """

    def next_run(line: str, minute: int) -> TimedRun | None:
        run = _next_run(floor, state, line, minute, rules)
        if tick is not None:
            tick(minute)
        return run

    return runs_in_turn(floor, next_run, until_min=until_min)


def runs_in_turn(
    floor: Floor, next_run: Callable[[str, int], TimedRun | None], *, until_min: int | None = None
) -> list[TimedRun]:
    """Return the runs that the lines choose one by one, always the line that decides first.

    Parameters
    ----------
    next_run
        Places the next run of a line that decides at a minute; None: the line looks again later.
    until_min
        Minute before which the last run is decided; None: the end of the list.
    """
    runs: list[TimedRun] = []
    end_min = floor.plant.end_min if until_min is None else until_min
    heap = [(minute, line) for line in floor.lines if (minute := floor.next_decision(line)) is not None]
    heapq.heapify(heap)
    while heap:
        minute, line = heapq.heappop(heap)
        if minute >= end_min:
            continue
        run = next_run(line, minute)
        if run is not None:
            runs.append(run)
        again = floor.next_decision(line) if run else floor.plant.line_spans[line].next_open(minute + LOOK_AGAIN_MIN)
        if again is not None:
            heapq.heappush(heap, (again, line))
    return runs


def offers_of(floor: Floor, state: SupplyState, line: str, minute: int, *, rules: Rules) -> list[Offer]:
    """Return every filament that the line could run next, best first."""
    decisions = [Decision(line, f, minute) for f in floor.plant.lines[line].rates if f in rules.allowed]
    return _ranked(offer for d in decisions if (offer := offer_of(floor, state, d, rules=rules)) is not None)


def _next_run(floor: Floor, state: SupplyState, line: str, minute: int, rules: Rules) -> TimedRun | None:
    plant = floor.plant
    offers = best_offers(floor, state, line, minute, rules=rules)
    if not offers:
        return None
    elsewhere = offers[1].worth_per_min if len(offers) > 1 else 0.0
    lot = lot_of(plant, offers[0], price_per_min=plant.facts.parameters.stop_share * elsewhere)
    return place_lot(floor, state, lot, Decision(line, lot.filament, minute))


def best_offers(floor: Floor, state: SupplyState, line: str, minute: int, *, rules: Rules) -> list[Offer]:
    """Return the two best of the filaments that the line could run next, or fewer; none that is not worth a run.

    What is late is made, be it worth ever so little: there is nothing better to do.
    """
    plant = floor.plant
    filaments = [code for code in plant.lines[line].rates if code in rules.allowed]
    best: list[Offer] = []
    for guess, code in guesses(floor, state, line, minute, filaments=filaments, exact=rules.exact):
        if len(best) == OFFERS and guess < best[-1].worth_per_min:
            break
        offer = offer_of(floor, state, Decision(line, code, minute), rules=rules)
        best = _ranked([*best, *([offer] if offer else [])])[:OFFERS]
    if best and best[0].worth_per_min * 60 >= plant.facts.parameters.least_worth_per_h:
        return best
    late = [Decision(line, code, minute) for code in filaments if state.is_late(code)]
    return _ranked(offer for d in late if (offer := offer_of(floor, state, d, rules=rules)) is not None)[:OFFERS]


def _ranked(offers: Iterable[Offer]) -> list[Offer]:
    return sorted(offers, key=lambda offer: (-offer.worth_per_min, offer.filament))


def place_lot(
    floor: Floor, state: SupplyState, lot: Lot, decision: Decision, *, may_start_later: bool = False
) -> TimedRun | None:
    """Write a lot on floor and supply as the line's next run; None if it cannot start within the days of the list."""
    timing = timed(floor, lot, decision)
    if timing is None or (timing.start_min >= floor.plant.end_min and not may_start_later):
        return None
    run = floor.shelve(floor.place(lot, decision.line, timing))
    state.add(run)
    return run


def offer_of(floor: Floor, state: SupplyState, decision: Decision, *, rules: Rules) -> Offer | None:
    """Return the best lot of a filament as the line's next run; None if no spool of it is wanted or it cannot run.

    A large lot may have to wait for a large hopper: the lot cut to the hopper that is dry first is looked at too.
    """
    most = wanted(floor, state, decision, rules=rules)
    if not any(most) or _can_wait(floor, state, decision, most, least_min=rules.least_min[decision.filament]):
        return None
    lots = {most, _dry_first(floor, decision, most)}
    offers = [offer for lot in sorted(lots) if (offer := _timed_offer(floor, state, decision, lot)) is not None]
    return max(offers, key=lambda offer: offer.worth_per_min, default=None)


def _can_wait(floor: Floor, state: SupplyState, decision: Decision, most: tuple[int, ...], *, least_min: float) -> bool:
    """Say whether a lot is short, none of its orders is late, and no size is likely to run out soon."""
    plant, filament = floor.plant, decision.filament
    each = plant.spool_minutes(decision.line, filament)
    if sum(n * minutes for n, minutes in zip(most, each, strict=True)) >= least_min or state.is_late(filament):
        return False
    arrival = floor.finishing.first_day(plant.material_of[filament], decision.minute)
    day = min(arrival + LIKELY_DAYS, len(plant.facts.days) - 1)
    return not any(state.is_likely_out(sku, day=day, deviations=LIKELY_SD) for sku in plant.skus_of[filament])


def wanted(floor: Floor, state: SupplyState, decision: Decision, *, rules: Rules) -> tuple[int, ...]:
    """Return the spools of each SKU up to its level, cut to what the store holds and the largest hopper can dry."""
    plant, skus = floor.plant, floor.plant.skus_of[decision.filament]
    most = tuple(rules.exact.get(sku, state.most(sku, decision.minute)) for sku in skus)
    holds = floor.lines[decision.line].holds
    return floor.store.affordable(plant, decision.line, holds, decision.filament, hopper_share(floor, decision, most))


def hopper_share(floor: Floor, decision: Decision, most: tuple[int, ...]) -> tuple[int, ...]:
    """Cut a lot evenly to what the largest hopper can dry at once."""
    limit = largest_charge_kg(floor.plant.facts.hoppers)
    if limit is None or floor.plant.material_of[decision.filament].resin_dry_h == 0:
        return most
    return _cut(floor, decision, most, limit)


def _dry_first(floor: Floor, decision: Decision, most: tuple[int, ...]) -> tuple[int, ...]:
    """Cut a lot evenly to the hopper that would have resin for the shortest run dry first."""
    if not floor.hoppers.has_batches:
        return most
    plant, holds = floor.plant, floor.lines[decision.line].holds
    least = _least_lot(plant, decision, most)
    resin_kg = plant.resin_kg(decision.line, holds, decision.filament, least)
    usable = max(decision.minute, plant.usable_min[decision.filament])
    charge = floor.hoppers.best(plant.material_of[decision.filament], resin_kg=resin_kg, by_min=usable)
    limit = None if charge is None else floor.hoppers.most_kg(charge)
    return most if limit is None else _cut(floor, decision, most, limit)


def _cut(floor: Floor, decision: Decision, most: tuple[int, ...], limit_kg: float) -> tuple[int, ...]:
    resin_kg = floor.plant.resin_kg(decision.line, floor.lines[decision.line].holds, decision.filament, most)
    return most if resin_kg <= limit_kg else tuple(int(n * limit_kg / resin_kg) for n in most)


def timed(floor: Floor, lot: Lot, decision: Decision) -> Timing | None:
    """Return the lot's times if the line decides at a minute (not before it is free)."""
    state = floor.lines[decision.line]
    floor.lines[decision.line] = LineState(max(state.free_min, decision.minute), state.holds)
    timing = floor.time(lot, decision.line)
    floor.lines[decision.line] = state
    return timing


def lot_of(plant: Plant, offer: Offer, *, price_per_min: float) -> Lot:
    """Return the economic lot of an offer."""
    length = economic_length(offer.ladder, at_least=offer.length, price_per_min=price_per_min)
    return Lot(offer.filament, offer.ladder.counts(length, sizes=len(plant.skus_of[offer.filament])))


def _least_lot(plant: Plant, decision: Decision, most: tuple[int, ...]) -> tuple[int, ...]:
    """Return about the shortest run that is listed, in the proportions wanted."""
    minutes = plant.spool_minutes(decision.line, decision.filament)
    total = sum(n * each for n, each in zip(most, minutes, strict=True))
    share = min(plant.facts.parameters.min_run_min / total, 1.0)
    return tuple(int(np.ceil(n * share)) for n in most)


def _timed_offer(floor: Floor, state: SupplyState, decision: Decision, most: tuple[int, ...]) -> Offer | None:
    """Return the offer of a lot up to `most`, at the time at which a hopper has the resin for all of it."""
    plant = floor.plant
    timing = timed(floor, Lot(decision.filament, most), decision) if any(most) else None
    if timing is None:
        return None
    feed = timing.charge.dryer_kg_h if timing.charge else None
    least = _least_lot(plant, decision, most)
    first_end = timing.wind_min + plant.run_min(decision.line, decision.filament, least, dryer_kg_h=feed)
    offer = _offer(floor, state, decision, most, timing, end_min=first_end)
    # The lot may be longer than the shortest run, and then miss the oven: look once more with its own end.
    own_end = timing.wind_min + round(plant.lines[decision.line].start_up_min + offer.minutes_of_length)
    material = plant.material_of[decision.filament]
    if floor.finishing.first_day(material, own_end) == floor.finishing.first_day(material, first_end):
        return offer
    return _offer(floor, state, decision, most, timing, end_min=own_end)


def _offer(
    floor: Floor, state: SupplyState, decision: Decision, most: tuple[int, ...], timing: Timing, *, end_min: int
) -> Offer:
    plant, filament = floor.plant, decision.filament
    day = floor.finishing.first_day(plant.material_of[filament], end_min)
    feed = timing.charge.dryer_kg_h if timing.charge else None
    minutes = plant.spool_minutes(decision.line, filament, dryer_kg_h=feed)
    ladder = state.ladder(filament, day=day, most=most, minutes=minutes)
    way_back = plant.facts.parameters.way_back_min if plant.is_material_change(timing.changeover_from, filament) else 0
    fixed = timing.wind_min - decision.minute + plant.lines[decision.line].start_up_min + way_back
    rate, length = best_rate(ladder, fixed_min=fixed, least_min=plant.facts.parameters.min_run_min)
    return Offer(filament, rate, length, ladder)
