"""Which hopper dries the resin of a run, and from when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

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


@dataclass
class HopperBoard:
    """Hoppers, written on as runs are planned. No hoppers entered: drying is not planned."""

    states: dict[str, HopperState]

    def copy(self) -> HopperBoard:
        """Return a board that can be written on without changing this one."""
        return HopperBoard(dict(self.states))

    def best(self, material: MaterialFacts, *, resin_kg: float) -> Charge | None:
        """Return the hopper that has this resin dry first; None where no drying is planned.

        Equal times: one that holds the material already, then the smallest that is large enough.
        """
        if not self.states or material.resin_dry_h == 0:
            return None
        usable = [s for s in self.states.values() if _holds(s.facts, resin_kg)] or _largest(self.states)
        charges = [_charge(state, material, resin_kg) for state in usable]
        return min(
            charges, key=lambda c: (c.ready_min, not c.is_loaded, self.states[c.hopper].facts.capacity_kg, c.hopper)
        )

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
        self.states[charge.hopper] = _used(state, material, since=since, full_kg=full, kg=charge.resin_kg, end=end_min)
        return since

    def reserve(self, hopper: str, material: MaterialFacts, *, resin_kg: float, start_min: int, end_min: int) -> None:
        """Write a committed run on the board: its hopper is in use until the run ends."""
        state = self.states[hopper]
        since = start_min - round(material.resin_dry_h * 60)
        full = state.facts.capacity_kg
        self.states[hopper] = _used(state, material, since=since, full_kg=full, kg=resin_kg, end=end_min)


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


def _holds(facts: HopperFacts, resin_kg: float) -> bool:
    return facts.is_continuous or resin_kg <= facts.capacity_kg + 1e-9


def _largest(states: dict[str, HopperState]) -> list[HopperState]:
    top = max(state.facts.capacity_kg for state in states.values())
    return [state for state in states.values() if state.facts.capacity_kg == top]


def _charge(state: HopperState, material: MaterialFacts, resin_kg: float) -> Charge:
    """Return when this hopper could have the resin dry: at once if enough of it is, else after a new load."""
    dry_min = round(material.resin_dry_h * 60)
    facts = state.facts
    feed = facts.capacity_kg / material.resin_dry_h if facts.is_continuous else None
    same = state.material == material.code
    if same and state.dried_since_min is not None:
        ready = max(state.dried_since_min + dry_min, state.free_min)
        keeps_until = state.dried_since_min + dry_min + round(material.dried_keeps_h * 60)
        if facts.is_continuous or (keeps_until > ready and resin_kg <= state.left_kg + 1e-9):
            return Charge(facts.code, resin_kg, state.dried_since_min, ready, True, feed)
    clean = facts.clean_min if state.material is not None and not same else 0
    load = state.free_min + round(clean)
    return Charge(facts.code, resin_kg, load, load + dry_min, False, feed)


def _used(
    state: HopperState, material: MaterialFacts, *, since: int, full_kg: float, kg: float, end: int
) -> HopperState:
    left = full_kg if state.facts.is_continuous else max(full_kg - kg, 0.0)
    return replace(
        state, material=material.code, dried_since_min=since, left_kg=left, free_min=max(end, state.free_min)
    )
