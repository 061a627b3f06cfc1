"""Mend a move: what it makes the rest of a line later or earlier, a lot of the rest takes up in units.

A line is full up to its last setup. So whatever takes longer pushes all that follows, and its last lot off the plan,
unless as many minutes are given up elsewhere at once; two moves, one after the other, would have to pass over that.
"""

from __future__ import annotations

from stockplan.planner.core.search.compiled import compiled
from stockplan.planner.core.search.costing import room_for, set_duration
from stockplan.planner.core.search.draws import below, uniform
from stockplan.planner.core.search.foresight import guess
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.lot_moves import change_units, edit, is_empty
from stockplan.planner.core.search.order_moves import piece
from stockplan.planner.core.search.problem import NOTHING, Ints
from stockplan.planner.core.search.state import STAMP, TOUCHED, State, Trial

# The lot that takes up the minutes is one of so many that follow.
NEXT_LOTS = 8
# Share of the moves that seem too dear and are tried once more, mended.
MENDED = 0.5


@compiled
def seems_good(p: Layout, s: State, t: Trial, rng: Ints, most: float) -> bool:
    """Say whether a move is guessed to cost less than `most` more, as it is or mended."""
    if guess(p, s, t) < most:
        return True
    return uniform(rng) < MENDED and mend(p, s, t, rng) and guess(p, s, t) < most


@compiled
def mend(p: Layout, s: State, t: Trial, rng: Ints) -> bool:
    """Let one lot behind the change take up its minutes on each line; False if none does, or one cannot."""
    is_mended = False
    for at in range(t.counter[TOUCHED]):
        lot = one_behind(p, s, t, rng, at)
        if lot != NOTHING:
            if not take_up(p, s, t, rng, at, lot):
                return False
            is_mended = True
    return is_mended


@compiled
def one_behind(p: Layout, s: State, t: Trial, rng: Ints, at: int) -> int:
    """Draw a lot of the rest of a line that shifts; NOTHING if there is none whose units can be changed."""
    line, last = t.line[at], t.pieces[at] - 1
    if t.shift[at] == 0 or last < 0 or t.piece[at, last, 0] != line or t.piece[at, last, 2] != s.length[line]:
        return NOTHING
    lo = t.piece[at, last, 1]
    lot = s.seq[line, lo + below(rng, min(NEXT_LOTS, s.length[line] - lo))]
    return NOTHING if s.end[lot] >= p.far or t.edit_stamp[lot] == t.counter[STAMP] else int(lot)


@compiled
def take_up(p: Layout, s: State, t: Trial, rng: Ints, at: int, lot: int) -> bool:
    """Make so much more or less in a lot that what follows it shifts no longer; False if that cannot be."""
    line, family = t.line[at], s.family[lot]
    edit(s, t, lot)
    first, left = below(rng, p.sizes[family]), -float(t.shift[at])
    is_changed = False
    for i in range(p.sizes[family]):
        k = (first + i) % p.sizes[family]
        sku = p.sku[family, k]
        room = room_for(p, s, sku) if left > 0.0 else s.units[lot, k]
        n = min(int(abs(left) / p.unit_min[line, sku] + 0.5), room)
        if n > 0:
            by = n if left > 0.0 else -n
            change_units(p, s, lot, k, by)
            left -= by * p.unit_min[line, sku]
            is_changed = True
    # A lot that goes is another move.
    if not is_changed or is_empty(s, lot):
        return False
    set_duration(p, s, lot)
    cut_out(s, t, at, lot)
    return True


@compiled
def cut_out(s: State, t: Trial, at: int, lot: int) -> None:
    """Make a lot of the rest of a line a piece of its own."""
    line, k, last = t.line[at], s.place[lot], t.pieces[at] - 1
    lo, hi = t.piece[at, last, 1], t.piece[at, last, 2]
    t.pieces[at] = last
    piece(t, at, line, lo, k)
    piece(t, at, line, k, k + 1)
    piece(t, at, line, k + 1, hi)
