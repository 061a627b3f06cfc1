"""Moves of the order: one exchange of two disjoint segments, of which one may be empty.

It covers insertion, or-opt, swap, the exchange of neighbouring segments (3-opt without reversal) and of the tails of
two lines. Where the order alone is open, a part of the segments are campaigns: lots between two long setups, which a
move would otherwise tear apart. A move writes itself on the trial; nothing is decided here.
"""

from __future__ import annotations

from stockplan.planner.core.search.compiled import compiled, compiled_inline
from stockplan.planner.core.search.draws import below, draw
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.problem import Ints
from stockplan.planner.core.search.state import TOUCHED, State, Trial


@compiled
def touch(t: Trial, line: int, start: int) -> int:
    """Say that a line changes from a place on; return its number in the trial."""
    at = t.counter[TOUCHED]
    t.line[at], t.start[at], t.pieces[at] = line, start, 0
    t.counter[TOUCHED] = at + 1
    return int(at)


@compiled
def piece(t: Trial, at: int, source: int, lo: int, hi: int) -> None:
    """Append a piece of a line to the new order."""
    if lo < hi:
        n = t.pieces[at]
        t.piece[at, n, 0], t.piece[at, n, 1], t.piece[at, n, 2] = source, lo, hi
        t.pieces[at] = n + 1


@compiled
def somewhere(p: Layout, s: State, rng: Ints, family: int, guided: bool) -> tuple[int, int]:
    """Return a line and place for a lot: behind one from which the setup is short, or anywhere."""
    if guided and (draw(rng) & 3) != 0:
        other = p.near[family, below(rng, p.near.shape[1])]
        if s.lot_count[other] > 0:
            lot = s.lots[other, below(rng, s.lot_count[other])]
            return s.line[lot], s.place[lot] + 1
    line = below(rng, len(s.length))
    return line, below(rng, s.length[line] + 1)


@compiled
def segment_length(rng: Ints, most: int) -> int:
    """Return the length of a segment: mostly one lot, sometimes few, sometimes any."""
    kind = draw(rng) & 7
    if most <= 1 or kind < 4:
        return 1
    return 1 + below(rng, min(3, most)) if kind < 6 else 1 + below(rng, most)


@compiled
def exchange(p: Layout, s: State, t: Trial, rng: Ints, guided: bool, both: bool) -> bool:
    """Exchange a segment with another, which may be empty unless `both` are asked for."""
    lot = s.active[below(rng, s.active[-1])]
    a, i = s.line[lot], s.place[lot]
    if not p.can_resize:
        # What takes time must fit in wherever it goes, so a short setup says less of where that is.
        near = guided and (both or (draw(rng) & 1) == 0)
        if (draw(rng) & 3) < (1 if both else 2):
            return exchange_campaigns(p, s, t, rng, near, both, a, i)
        guided = near
    m = segment_length(rng, s.length[a] - i)
    b, j = somewhere(p, s, rng, s.family[lot], guided)
    left = s.length[b] - j
    n = 0 if left == 0 or (not both and (draw(rng) & 1) == 0) else min(segment_length(rng, left), left)
    return exchange_segments(s, t, a, i, m, b, j, n)


@compiled_inline
def campaign_end(p: Layout, s: State, line: int, i: int, long: float) -> int:
    """Return the place behind the lots from place i on between which no setup is as long as `long`."""
    pair, stands = p.pair[p.table[line]], s.stands[line]
    end = i + 1
    while end < s.length[line] and pair[stands[end], stands[end + 1]] < long:
        end += 1
    return end


@compiled
def exchange_campaigns(p: Layout, s: State, t: Trial, rng: Ints, guided: bool, both: bool, a: int, i: int) -> bool:
    """Exchange the campaign around place i of a line with another: long is what is as long as a random setup of it."""
    pair, stands, at = p.pair[p.table[a]], s.stands[a], below(rng, s.length[a])
    long = pair[stands[at], stands[at + 1]]
    end = campaign_end(p, s, a, i, long)
    while i > 0 and pair[stands[i], stands[i + 1]] < long:
        i -= 1
    b, j = somewhere(p, s, rng, s.family[s.seq[a, i]], guided)
    n = 0
    if j < s.length[b] and (both or (draw(rng) & 1) == 0):
        n = campaign_end(p, s, b, j, long) - j
    return exchange_segments(s, t, a, i, end - i, b, j, n)


@compiled
def exchange_segments(s: State, t: Trial, a: int, i: int, m: int, b: int, j: int, n: int) -> bool:
    """Exchange m lots from place i of line a with n from place j of line b; False if that is no move."""
    if a == b and j < i:
        i, m, j, n = j, n, i, m
    if a == b and (j < i + m or (m == 0 and j == i) or (n == 0 and j == i + m)):
        return False
    t.swap[0], t.swap[1], t.swap[2], t.swap[3], t.swap[4], t.swap[5] = a, i, m, b, j, n
    at = touch(t, a, i)
    piece(t, at, b, j, j + n)
    if a == b:
        piece(t, at, a, i + m, j)
        piece(t, at, a, i, i + m)
        piece(t, at, a, j + n, s.length[a])
        return True
    piece(t, at, a, i + m, s.length[a])
    at = touch(t, b, j)
    piece(t, at, a, i, i + m)
    piece(t, at, b, j + n, s.length[b])
    return True


@compiled
def shuffle(s: State, rng: Ints) -> None:
    """Write lots in random order on the places of a plan, each on a line that can make it; leave the times."""
    for n in range(s.active[-1] - 1, 0, -1):
        lot, other = s.active[n], s.active[below(rng, n + 1)]
        a, i, b, j = s.line[lot], s.place[lot], s.line[other], s.place[other]
        if s.duration[lot, b] >= 0 and s.duration[other, a] >= 0:
            s.seq[a, i], s.seq[b, j] = other, lot
            s.line[lot], s.place[lot], s.line[other], s.place[other] = b, j, a, i
