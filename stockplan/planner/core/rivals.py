"""What a filament without a place would be worth in the place of a listed run, and what the exchange would come to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stockplan.planner.core.floor import Floor, LineState, Lot, TimedRun
from stockplan.planner.core.made import Made
from stockplan.planner.core.ranking import RankedRun, day_weights, ranked
from stockplan.planner.core.selection import Decision, lot_of, offer_of, offers_of, timed
from stockplan.planner.core.sequence import sequences_of
from stockplan.planner.core.shortage import Ints

# So many runs of least worth are looked at for one that could make room.
MOST_RIVALS = 30


@dataclass(frozen=True)
class Rival:
    """A listed run and a filament in its place: what would be made there, and the misses that it avoids an hour."""

    run: RankedRun
    lot: Lot
    worth_per_hour: float

    @property
    def gain_per_hour(self) -> float:
        """What the filament would avoid an hour in the place of the run, less what the run avoids."""
        return self.worth_per_hour - self.run.worth_per_hour


def rival_of(made: Made, order: Sequence[RankedRun], filament: str) -> Rival | None:
    """Return the run in whose place a filament would gain most; None where it could be made in the place of none.

    Pinned runs and those of late orders make no room. Of the others, those of least worth are looked at.

    Parameters
    ----------
    order
        The list's runs by worth.
    """
    lines = made.floor.plant.lines_for(filament)
    free = [r for r in order if r.run.line in lines and not _must_stay(made, r.run)]
    least = sorted(free, key=lambda r: (r.worth_per_hour, -r.rank))[:MOST_RIVALS]
    rivals = [rival for r in least if (rival := _in_place_of(made, r, filament)) is not None]
    return max(rivals, key=lambda rival: rival.gain_per_hour, default=None)


def exchanged(made: Made, rival: Rival) -> Made:
    """Return the list with a rival's run given up for the filament."""
    sequences = sequences_of(made.runs)
    lots = sequences[rival.run.run.line]
    at = next(i for i, lot in enumerate(lots) if lot is rival.run.run.lot)
    lots[at] = rival.lot
    return made.laid_out(sequences)


def _must_stay(made: Made, run: TimedRun) -> bool:
    return run.lot.is_pinned or made.before.is_late(run.lot.filament)


def _in_place_of(made: Made, listed: RankedRun, filament: str) -> Rival | None:
    """Return the lot of a filament where a run stands, with the materials that the list leaves; None if none is."""
    plant, run = made.floor.plant, listed.run
    floor = _floor_before(made, run)
    decision = Decision(run.line, filament, run.timing.start_min)
    offer = offer_of(floor, made.before, decision, rules=made.rules)
    if offer is None:
        return None
    price = plant.facts.parameters.stop_share * listed.worth_per_hour / 60
    lot = lot_of(plant, offer, price_per_min=price)
    there = _placed(made, floor, lot, decision, supply=made.opening.supply)
    return None if there is None else Rival(listed, lot, there.worth_per_hour)


def next_best(made: Made, run: TimedRun) -> RankedRun | None:
    """Return the best other use of a run's minutes that the list has not: a further run of another filament.

    What the list makes is made; the materials are those that it leaves. None if no other spool is wanted then.
    """
    floor, minute = _floor_before(made, run), run.timing.start_min
    rules = replace(made.rules, exact=dict.fromkeys(made.rules.exact, 0))
    offers = offers_of(floor, made.state, run.line, minute, rules=rules)
    other = next((offer for offer in offers if offer.filament != run.lot.filament), None)
    if other is None:
        return None
    lot = lot_of(floor.plant, other, price_per_min=0.0)
    return _placed(made, floor, lot, Decision(run.line, lot.filament, minute), supply=made.state.supply)


def _floor_before(made: Made, run: TimedRun) -> Floor:
    """Return the floor with the line as it stands when a run begins, and the materials that the list leaves."""
    floor = made.opening.floor.copy()
    floor.store = made.floor.store.copy()
    floor.lines[run.line] = LineState(run.timing.start_min, run.timing.changeover_from)
    return floor


def _placed(made: Made, floor: Floor, lot: Lot, decision: Decision, *, supply: Ints) -> RankedRun | None:
    """Return what a lot avoids beyond a supply; None if it cannot begin within the days of the list."""
    plant, timing = floor.plant, timed(floor, lot, decision)
    if timing is None or timing.start_min >= plant.end_min:
        return None
    placed = floor.shelve(floor.place(lot, decision.line, timing))
    return ranked(plant, made.before.tables, supply, [placed], weights=day_weights(plant))[0]
