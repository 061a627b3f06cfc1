"""What a move changes: lots with their new times, and families to be costed again."""

from __future__ import annotations

from stockplan.planner.core.search.compiled import compiled
from stockplan.planner.core.search.problem import NOTHING
from stockplan.planner.core.search.state import CHANGED, DIRTY, EDITED, STAMP, State, Trial


@compiled
def begin(t: Trial) -> None:
    """Begin a new move."""
    stamp = t.counter[STAMP] + 1
    t.counter[:] = 0
    t.counter[STAMP] = stamp
    t.gone[0], t.new[0] = NOTHING, NOTHING


@compiled
def mark_family(t: Trial, family: int) -> None:
    """Note that a family is to be costed again."""
    if t.family_stamp[family] != t.counter[STAMP]:
        t.family_stamp[family] = t.counter[STAMP]
        t.dirty[t.counter[DIRTY]] = family
        t.counter[DIRTY] += 1


@compiled
def mark_edits(s: State, t: Trial) -> float:
    """Note the families whose lots a move takes away, adds or resizes; return the setup cost that goes with a lot."""
    edge = 0.0
    if t.gone[0] != NOTHING:
        edge = s.edge[t.gone[0]]
        mark_family(t, s.family[t.gone[0]])
    if t.new[0] != NOTHING:
        mark_family(t, s.family[t.new[0]])
    for i in range(t.counter[EDITED]):
        mark_family(t, s.family[t.edited[i]])
    return float(edge)


@compiled
def note_lot(s: State, t: Trial, lot: int, edge: float, end: int, day: int) -> None:
    """Note a lot's new times."""
    at = t.counter[CHANGED]
    t.lot[at], t.edge[at], t.end[at], t.day[at] = lot, edge, end, day
    t.counter[CHANGED] = at + 1
    t.lot_stamp[lot] = t.counter[STAMP]
    t.lot_day[lot] = day
    if day != s.day[lot]:
        mark_family(t, s.family[lot])
