"""Which hopper dries the resin of a run, and from when."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from stockplan.planner.core.facts import HopperFacts, MaterialFacts
from stockplan.planner.core.timing import MinuteClock


@dataclass(frozen=True)
class HopperState:
    """A hopper as planned so far: what it holds, since when that dries, and when it is free again.

    A hopper is filled up whenever it is loaded; `left_kg` is what the runs so far leave in it.
    """

    facts: HopperFacts
    material: str | None
    dried_since_min: int | None
    left_kg: float
    free_min: int


@dataclass(frozen=True)
class Charge:
    """Resin of one run in one hopper: loaded at `load_min` at the earliest, dry at `ready_min`."""

    hopper: str
    resin_kg: float
    load_min: int
    ready_min: int
    is_loaded: bool
    dryer_kg_h: float | None


@dataclass(frozen=True)
class Source:
    """A hopper as one way to have a material dry at `ready_min`, for at most `most_kg` of resin.

    `is_emptied`: another material leaves it for that.
    """

    hopper: str
    most_kg: float
    load_min: int
    ready_min: int
    is_loaded: bool
    is_emptied: bool
    dryer_kg_h: float | None


@dataclass
class HopperBoard:
    """Hoppers, written on as runs are planned. No hoppers entered: drying is not planned.

    `sources` keeps what was looked up by material since a run was written on the board.
    """

    states: dict[str, HopperState]
    sources: dict[str, list[Source]] = field(default_factory=dict)

    def copy(self) -> HopperBoard:
        """Return a board that can be written on without changing this one."""
        return HopperBoard(dict(self.states))

    @property
    def has_batches(self) -> bool:
        """Say whether some hopper holds no more than one load at a time."""
        return any(not state.facts.is_continuous for state in self.states.values())

    def best(self, material: MaterialFacts, *, resin_kg: float, by_min: int) -> Charge | None:
        """Return the hopper that has this resin dry by a minute or, if none has, first; None: no drying is planned.

        Equals: one that holds the material dry already, then one that needs not be emptied for it, so that what another
        holds stays for who needs it; then the smallest that is large enough.
        """
        if not self.states or material.resin_dry_h == 0:
            return None
        if material.code not in self.sources:
            self.sources[material.code] = self._sources(material)
        sources = self.sources[material.code]
        enough = [s for s in sources if resin_kg <= s.most_kg + 1e-9] or _largest(sources)
        found = min(enough, key=lambda s: (max(s.ready_min, by_min), not s.is_loaded, s.is_emptied))
        return Charge(found.hopper, resin_kg, found.load_min, found.ready_min, found.is_loaded, found.dryer_kg_h)

    def _sources(self, material: MaterialFacts) -> list[Source]:
        """Return every way to have a material dry, the smallest hoppers first."""
        ways = [way for state in self.states.values() for way in _ways(state, material)]
        capacity = {code: state.facts.capacity_kg for code, state in self.states.items()}
        return sorted(ways, key=lambda way: (capacity[way.hopper], way.hopper))

    def most_kg(self, charge: Charge) -> float | None:
        """Return the most resin that this hopper could give at the time of the charge; None: no limit."""
        state = self.states[charge.hopper]
        if state.facts.is_continuous:
            return None
        return state.left_kg if charge.is_loaded else state.facts.capacity_kg

    def take(self, charge: Charge | None, material: MaterialFacts, *, start_min: int, end_min: int) -> int | None:
        """Write a run on the board and return the minute from which its resin dries, as late as possible."""
        if charge is None:
            return None
        state = self.states[charge.hopper]
        full = state.left_kg if charge.is_loaded else state.facts.capacity_kg
        since, dry_min = charge.load_min, round(material.resin_dry_h * 60)
        # What would be kept too long by the start (its line is busy until then) is dried again: the books refuse it.
        is_kept = start_min <= since + dry_min + round(material.dried_keeps_h * 60)
        if not charge.is_loaded or not (is_kept or state.facts.is_continuous):
            since = max(charge.load_min, start_min - dry_min)
        self._use(state, material, since=since, full_kg=full, kg=charge.resin_kg, end=end_min)
        return since

    def reserve(self, hopper: str, material: MaterialFacts, *, resin_kg: float, start_min: int, end_min: int) -> None:
        """Write a committed run on the board: its hopper is in use until the run ends."""
        state = self.states[hopper]
        since = start_min - round(material.resin_dry_h * 60)
        full = state.facts.capacity_kg
        self._use(state, material, since=since, full_kg=full, kg=resin_kg, end=end_min)

    def _use(
        self, state: HopperState, material: MaterialFacts, *, since: int, full_kg: float, kg: float, end: int
    ) -> None:
        left = full_kg if state.facts.is_continuous else max(full_kg - kg, 0.0)
        self.states[state.facts.code] = replace(
            state, material=material.code, dried_since_min=since, left_kg=left, free_min=max(end, state.free_min)
        )
        self.sources.clear()


def hopper_board(hoppers: Sequence[HopperFacts], *, clock: MinuteClock) -> HopperBoard:
    """Return the board as the hoppers stand now."""
    return HopperBoard(
        {
            h.code: HopperState(
                h, h.holds_material, None if h.dried_since is None else clock.minute(h.dried_since), h.capacity_kg, 0
            )
            for h in hoppers
        }
    )


def largest_charge_kg(hoppers: Sequence[HopperFacts]) -> float | None:
    """Return the most resin that one run can be given; None where nothing limits it."""
    if not hoppers or any(h.is_continuous for h in hoppers):
        return None
    return max(h.capacity_kg for h in hoppers)


def _largest(sources: Sequence[Source]) -> list[Source]:
    """Return the ways to the most resin that a hopper can hold: the lot is too large for any of them."""
    top = max(source.most_kg for source in sources)
    return [source for source in sources if source.most_kg == top]


def _ways(state: HopperState, material: MaterialFacts) -> list[Source]:
    """Return how this hopper could have the resin dry: what is loaded, as long as it keeps, and a new load."""
    dry_min = round(material.resin_dry_h * 60)
    facts = state.facts
    feed = facts.capacity_kg / material.resin_dry_h if facts.is_continuous else None
    same = state.material == material.code
    ways = []
    if same and state.dried_since_min is not None:
        ready = max(state.dried_since_min + dry_min, state.free_min)
        keeps_until = state.dried_since_min + dry_min + round(material.dried_keeps_h * 60)
        most = math.inf if facts.is_continuous else state.left_kg
        if facts.is_continuous or keeps_until > ready:
            ways.append(Source(facts.code, most, state.dried_since_min, ready, True, False, feed))
    if not (ways and facts.is_continuous):
        is_emptied = state.material is not None and not same
        clean = facts.clean_min if is_emptied else 0
        load = state.free_min + round(clean)
        most = math.inf if facts.is_continuous else facts.capacity_kg
        ways.append(Source(facts.code, most, load, load + dry_min, False, is_emptied, feed))
    return ways
