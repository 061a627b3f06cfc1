"""The search itself: anneal a plan by random moves, keep the best, begin again from it or in random order.

A move that makes the plan worse by d is taken with probability exp(-d / temperature); the temperature falls
geometrically over a round, from what a small bad move costs in the plan that the round begins with. A descent that is
to leave a plan much as it is takes only moves that gain more than a given cost.

Where only the order of lots is open and setups differ but take no time, each move is a leap: an exchange and the
descent after it, judged as one. Elsewhere plain moves find cheaper plans in the same time: where lots may be resized,
with a tenth of leaps they cost 40 % more.

References
----------
Kirkpatrick, Gelatt & Vecchi, Optimization by simulated annealing, Science 220 (1983) 671-680.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stockplan.planner.core.search.compiled import compiled, compiled_entry, compiled_inline, sources_digest
from stockplan.planner.core.search.costing import evaluate, refresh, take
from stockplan.planner.core.search.descent import leap, settle
from stockplan.planner.core.search.draws import most_rise
from stockplan.planner.core.search.foresight import learn_slopes
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.lot_moves import give_up
from stockplan.planner.core.search.mending import seems_good
from stockplan.planner.core.search.moves import propose
from stockplan.planner.core.search.order_moves import shuffle
from stockplan.planner.core.search.problem import NOTHING, Floats, Ints
from stockplan.planner.core.search.state import SAMPLE, TRIED, State, Trial, Walk

# Moves between two changes of temperature.
EVERY = 64
# Changes of temperature between two looks at what minutes cost.
LEARN_EVERY = 16
# A change of the cost that is none.
LEAST_CHANGE = 1e-9
# A round begins at what the bad moves of this quantile cost, and ends at a share of it: where only the order is open,
# and where lots may be resized.
QUANTILE, COLD, COLD_LOTS = 0.1, 0.01, 0.03

Entry = Callable[[Layout, State, State, Trial, Walk, Ints, Floats, bool, bool, int, int, float], float]


@compiled
def keep(s: State, best: State) -> None:
    """Copy a plan."""
    best.active[-1] = s.active[-1]
    for line in range(len(s.length)):
        best.length[line] = s.length[line]
        for at in range(s.length[line]):
            lot = s.seq[line, at]
            best.seq[line, at], best.family[lot] = lot, s.family[lot]
            for k in range(s.units.shape[1]):
                best.units[lot, k] = s.units[lot, k]


@compiled
def small_rise(p: Layout, s: State, t: Trial, rng: Ints, shares: Floats, guided: bool) -> float:
    """Return what a rather small bad move costs in a plan: a low quantile over a sample; 1 where none is bad."""
    n = 0
    for _ in range(SAMPLE):
        if propose(p, s, t, rng, shares, guided):
            delta = evaluate(p, s, t)
            if 1e-9 < delta < np.inf:
                at = n
                while at > 0 and t.rises[at - 1] > delta:
                    t.rises[at] = t.rises[at - 1]
                    at -= 1
                t.rises[at] = delta
                n += 1
        give_up(p, s, t)
    return float(t.rises[int(QUANTILE * n)]) if n else 1.0


@compiled_inline
def is_idle(t: Trial, change: float) -> bool:
    """Say whether a new lot changes nothing, as one that comes too late does; such lots would fill the plan."""
    return t.new[0] != NOTHING and abs(change) < LEAST_CHANGE


@compiled_inline
def try_move(p: Layout, s: State, t: Trial, rng: Ints, shares: Floats, guided: bool, temperature: float) -> float:
    """Try one random move and take or undo it; return by how much the cost changes.

    A temperature below nought is what a move must gain.
    """
    if propose(p, s, t, rng, shares, guided):
        most = most_rise(rng, temperature) if temperature >= 0.0 else temperature
        if not p.can_resize or seems_good(p, s, t, rng, most + abs(temperature)):
            change = evaluate(p, s, t)
            if change < most and not is_idle(t, change):
                take(p, s, t)
                return change
    give_up(p, s, t)
    return 0.0


@compiled
def anneal_once(
    p: Layout,
    s: State,
    best: State,
    t: Trial,
    w: Walk,
    rng: Ints,
    shares: Floats,
    guided: bool,
    leaps: bool,
    moves: int,
    least_gain: float,
    best_cost: float,
) -> float:
    """Anneal once from the plan in `s`, or descend; return the best cost, its plan in `best`."""
    cost = refresh(p, s, t)
    if leaps:
        cost += settle(p, s, t, w)
    temperature, falls_by = -least_gain, 1.0
    if least_gain == 0.0:
        temperature = small_rise(p, s, t, rng, shares, guided)
        falls_by = (COLD_LOTS if p.can_resize else COLD) ** (EVERY / moves)
    w.counter[TRIED], cooled = 0, 0
    while w.counter[TRIED] < moves:
        while cooled * EVERY <= w.counter[TRIED]:
            temperature *= falls_by
            cooled += 1
            if p.can_resize and cooled % LEARN_EVERY == 1:
                learn_slopes(p, s, t)
        w.counter[TRIED] += 1
        if leaps and s.active[-1] > 0:
            cost += leap(p, s, t, w, rng, temperature)
        else:
            cost += try_move(p, s, t, rng, shares, guided, temperature)
        if cost < best_cost - 1e-7:
            best_cost = cost
            keep(s, best)
    return best_cost


def _entry(digest: str) -> Entry:
    @compiled_entry
    def anneal(
        p: Layout,
        s: State,
        best: State,
        t: Trial,
        w: Walk,
        rng: Ints,
        shares: Floats,
        guided: bool,
        leaps: bool,
        moves: int,
        rounds: int,
        least_gain: float,
    ) -> float:
        digest  # noqa: B018  belongs to the key of the kept machine code
        best_cost = refresh(p, s, t)
        keep(s, best)
        for at in range(rounds):
            if p.can_resize or 2 * at >= rounds:
                keep(best, s)
            elif at > 0:
                # From one order on, the search may come to rest apart from the best.
                shuffle(s, rng)
            best_cost = anneal_once(p, s, best, t, w, rng, shares, guided, leaps, moves, least_gain, best_cost)
        return float(refresh(p, best, t))

    return anneal


anneal = _entry(sources_digest())
