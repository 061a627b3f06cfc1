"""Descent by setups: exchanges of segments that put a lot behind one from which its setup is short.

Cut the line before a lot `a` and behind a lot `c`; wherever a third cut is made, exchanging the two segments between
the cuts makes `a` follow `c`. So third cuts are looked through by what the three new setups are worth, as long as the
first two still gain, and the best is tried at its true cost. Only lots whose neighbours changed are looked at again.

References
----------
Johnson & McGeoch, Experimental analysis of heuristics for the ATSP, in The Traveling Salesman Problem and Its
Variations (2002): 3-opt without reversal, neighbour lists, don't-look bits (from memory).
Lin & Kernighan, An effective heuristic algorithm for the traveling-salesman problem, Operations Research 21 (1973)
498-516 (from memory): a better exchange can be looked through in an order in which every part of it gains.
Martin, Otto & Felten, Large-step Markov chains for the traveling salesman problem, Complex Systems 5 (1991) 299-326
(from memory).
"""

from __future__ import annotations

import numpy as np

from stockplan.planner.core.search.compiled import compiled, compiled_inline
from stockplan.planner.core.search.costing import evaluate, take
from stockplan.planner.core.search.draws import is_refused
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.notes import begin
from stockplan.planner.core.search.order_moves import exchange, exchange_segments
from stockplan.planner.core.search.problem import Ints
from stockplan.planner.core.search.state import HEAD, KINDS, LOG, LOGGED, QUEUED, TRIED, State, Trial, Walk

LEAST_GAIN = 1e-9


@compiled_inline
def look_at(w: Walk, lot: int) -> None:
    """Queue a lot."""
    if not w.queued[lot]:
        w.queued[lot] = True
        w.queue[(w.counter[HEAD] + w.counter[QUEUED]) % len(w.queue)] = lot
        w.counter[QUEUED] += 1


@compiled_inline
def next_lot(w: Walk) -> int:
    """Take the next lot from the queue."""
    lot = w.queue[w.counter[HEAD]]
    w.counter[HEAD] = (w.counter[HEAD] + 1) % len(w.queue)
    w.counter[QUEUED] -= 1
    w.queued[lot] = False
    return int(lot)


@compiled_inline
def note(w: Walk, kind: int, gain: float, a: int, i: int, m: int, b: int, j: int, n: int) -> None:
    """Keep an exchange if it is the best of its kind so far."""
    if gain > w.gain[kind]:
        w.gain[kind] = gain
        best = w.best[kind]
        best[0], best[1], best[2], best[3], best[4], best[5] = a, i, m, b, j, n


@compiled_inline
def third_cut(p: Layout, s: State, w: Walk, line: int, i: int, j: int, k: int, gain: float) -> None:
    """Note what it gains to cut a line before places i, j and k, if that is an exchange."""
    pair, stands = p.pair[p.table[line]], s.stands[line]
    gain += pair[stands[k], stands[k + 1]] - pair[stands[i], stands[k + 1]]
    if i < k < j:
        note(w, 0, gain, line, i, k - i, line, k, j - k)
    elif k < j < i:
        note(w, 0, gain, line, k, j - k, line, j, i - j)
    elif j < i < k:
        note(w, 0, gain, line, j, i - j, line, i, k - i)


@compiled_inline
def third_cuts(p: Layout, s: State, w: Walk, line: int, i: int, j: int, gain: float) -> None:
    """Look through the third cuts of a line that is cut before places i and j."""
    pair, stands = p.pair[p.table[line]], s.stands[line]
    first = stands[j + 1]
    gain += pair[stands[j], first]
    third_cut(p, s, w, line, i, j, 0, gain - pair[stands[0], first])
    for n in range(p.near.shape[1]):
        before = p.near[first, n]
        rest = gain - pair[before, first]
        if rest <= LEAST_GAIN:
            return
        for at in range(s.lot_count[before]):
            lot = s.lots[before, at]
            if s.line[lot] == line:
                third_cut(p, s, w, line, i, j, s.place[lot] + 1, rest)


@compiled_inline
def other_line(p: Layout, s: State, w: Walk, a: int, i: int, b: int, j: int, gain: float) -> None:
    """Look through the segments from place i of a line that could go before place j of another."""
    left, there = p.pair[p.table[a]], p.pair[p.table[b]]
    at_a, at_b = s.stands[a], s.stands[b]
    insert = gain + there[at_b[j], at_b[j + 1]]
    exchange = insert - left[at_a[i], at_b[j + 1]]
    for m in range(1, s.length[a] - i + 1):
        tail, after = at_a[i + m], at_a[i + m + 1]
        cut = left[tail, after]
        note(w, 2, insert + cut - there[tail, at_b[j + 1]] - left[at_a[i], after], a, i, m, b, j, 0)
        if j + m <= s.length[b]:
            other, follows = at_b[j + m], at_b[j + m + 1]
            both = cut + there[other, follows] - there[tail, follows] - left[other, after]
            note(w, 1, exchange + both, a, i, m, b, j, m)


@compiled_inline
def behind(p: Layout, s: State, w: Walk, a: int, i: int, b: int, j: int) -> bool:
    """Look for exchanges after which what stands at place i of a line follows what stands before place j of another.

    False where the setup would not be shorter.
    """
    here = s.stands[a, i + 1]
    gain = p.pair[p.table[a], s.stands[a, i], here] - p.pair[p.table[b], s.stands[b, j], here]
    if gain <= LEAST_GAIN:
        return False
    if a == b:
        third_cuts(p, s, w, a, i, j, gain)
    else:
        other_line(p, s, w, a, i, b, j, gain)
    return True


@compiled_inline
def look_around(p: Layout, s: State, w: Walk, lot: int) -> None:
    """Find the best exchange of each kind that puts a lot behind one from which its setup is shorter."""
    w.gain[:] = LEAST_GAIN
    a, i, family = s.line[lot], s.place[lot], s.family[lot]
    for line in range(len(s.length)):
        if line != a or i > 0:
            behind(p, s, w, a, i, line, 0)
    for k in range(p.near.shape[1]):
        other = p.near[family, k]
        for at in range(s.lot_count[other]):
            c = s.lots[other, at]
            if (s.line[c] != a or s.place[c] != i - 1) and not behind(p, s, w, a, i, s.line[c], s.place[c] + 1):
                return


@compiled
def take_logged(p: Layout, s: State, t: Trial, w: Walk) -> None:
    """Take the exchange on trial, keep it in the log, and queue the lots at its cuts."""
    take(p, s, t)
    a, i, m, b, j, n = t.swap[0], t.swap[1], t.swap[2], t.swap[3], t.swap[4], t.swap[5]
    at = w.log[w.counter[LOGGED]]
    at[0], at[1], at[2], at[3], at[4], at[5] = a, i, m, b, j, n
    w.counter[LOGGED] += 1
    look_beside(s, w, a, i)
    look_beside(s, w, a, i + n)
    if a == b:
        look_beside(s, w, b, j + n - m)
        look_beside(s, w, b, j + n)
    else:
        look_beside(s, w, b, j)
        look_beside(s, w, b, j + m)


@compiled_inline
def look_beside(s: State, w: Walk, line: int, cut: int) -> None:
    """Queue the lots on both sides of a cut."""
    if cut > 0:
        look_at(w, s.seq[line, cut - 1])
    if cut < s.length[line]:
        look_at(w, s.seq[line, cut])


@compiled_inline
def best_of_lot(p: Layout, s: State, t: Trial, w: Walk, lot: int) -> float:
    """Take an exchange around a lot that makes the plan cheaper; return the change, 0 where none does."""
    look_around(p, s, w, lot)
    w.counter[TRIED] += 1
    for kind in range(KINDS):
        if w.gain[kind] > LEAST_GAIN:
            begin(t)
            x = w.best[kind]
            exchange_segments(s, t, x[0], x[1], x[2], x[3], x[4], x[5])
            change = evaluate(p, s, t)
            w.counter[TRIED] += 1
            if change < -LEAST_GAIN:
                take_logged(p, s, t, w)
                look_at(w, lot)
                return change
    return 0.0


@compiled
def descend(p: Layout, s: State, t: Trial, w: Walk) -> float:
    """Take exchanges that make the plan cheaper until no queued lot has one or the log is full; return the change."""
    change = 0.0
    while w.counter[QUEUED] > 0 and w.counter[LOGGED] < LOG:
        change += best_of_lot(p, s, t, w, next_lot(w))
    return change


@compiled
def undo(p: Layout, s: State, t: Trial, w: Walk) -> None:
    """Take the logged exchanges back, the last one first."""
    while w.counter[LOGGED] > 0:
        w.counter[LOGGED] -= 1
        x = w.log[w.counter[LOGGED]]
        a, i, m, b, j, n = x[0], x[1], x[2], x[3], x[4], x[5]
        begin(t)
        exchange_segments(s, t, a, i, n, b, j + n - m if a == b else j, m)
        evaluate(p, s, t)
        take(p, s, t)


@compiled
def leap(p: Layout, s: State, t: Trial, w: Walk, rng: Ints, temperature: float) -> float:
    """Exchange two random segments and descend; keep or undo the whole; return by how much the cost changes."""
    begin(t)
    if not exchange(p, s, t, rng, True, True):
        return 0.0
    change = evaluate(p, s, t)
    if change == np.inf:
        return 0.0
    w.counter[LOGGED] = 0
    take_logged(p, s, t, w)
    change += descend(p, s, t, w)
    while w.counter[QUEUED] > 0:
        next_lot(w)
    if is_refused(rng, change, temperature):
        undo(p, s, t, w)
        return 0.0
    return change


@compiled
def settle(p: Layout, s: State, t: Trial, w: Walk) -> float:
    """Descend from a whole plan; return by how much the cost changes."""
    for k in range(s.active[-1]):
        look_at(w, s.active[k])
    change = 0.0
    while w.counter[QUEUED] > 0:
        w.counter[LOGGED] = 0
        change += descend(p, s, t, w)
    return change
