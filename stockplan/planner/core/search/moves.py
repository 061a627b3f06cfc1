"""One random move of any kind."""

from __future__ import annotations

from stockplan.planner.core.search.compiled import compiled
from stockplan.planner.core.search.draws import uniform
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.lot_moves import add, drop, resize, split, transfer
from stockplan.planner.core.search.notes import begin
from stockplan.planner.core.search.order_moves import exchange
from stockplan.planner.core.search.problem import Floats, Ints
from stockplan.planner.core.search.state import State, Trial


@compiled
def propose(p: Layout, s: State, t: Trial, rng: Ints, shares: Floats, guided: bool) -> bool:
    """Write a random move on the trial; False if it would change nothing."""
    begin(t)
    if s.active[-1] == 0:
        return add(p, s, t, rng, guided)
    u = uniform(rng)
    if u < shares[0]:
        return exchange(p, s, t, rng, guided, False)
    if u < shares[1]:
        return resize(p, s, t, rng)
    if u < shares[2]:
        return transfer(p, s, t, rng)
    if u < shares[3]:
        return split(p, s, t, rng, guided)
    return drop(s, t, rng) if u < shares[4] else add(p, s, t, rng, guided)
