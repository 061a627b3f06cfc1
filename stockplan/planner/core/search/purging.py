"""What setups purge of scarce items, where all lines are timed together.

Units take their items when they are counted; what is purged besides depends on what stands before what. Units for
which nothing is left then cost more than they are worth, so that a search that begins with some leaves them.
"""

from __future__ import annotations

from stockplan.planner.core.search.compiled import compiled, compiled_inline
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.problem import NOTHING
from stockplan.planner.core.search.state import State, Trial

# Less is no shortage, kg or pieces.
LEAST_SHORT = 1e-9


@compiled_inline
def nothing_purged(t: Trial) -> None:
    """Begin to count."""
    for item in range(len(t.purged)):
        t.purged[item] = 0.0


@compiled_inline
def count_purge(p: Layout, t: Trial, line: int, holds: int, family: int) -> None:
    """Count what a setup purges."""
    for j in range(p.shared.purge_item.shape[1]):
        item = p.shared.purge_item[family, j]
        if item != NOTHING:
            t.purged[item] += p.shared.purge_kg[line, holds, family] * p.shared.purge_share[family, j]


@compiled
def shortage(p: Layout, s: State, t: Trial) -> float:
    """Return the cost of what is short of items with the purge that was counted."""
    gone = t.gone[0]
    if gone != NOTHING:
        for k in range(p.sizes[s.family[gone]]):
            sku = p.sku[s.family[gone], k]
            for j in range(p.item.shape[1]):
                if p.item[sku, j] != NOTHING:
                    t.purged[p.item[sku, j]] -= s.units[gone, k] * p.item_use[sku, j]
    cost = 0.0
    for item in range(len(t.purged)):
        short = t.purged[item] - p.shared.spared[item] - s.left[item]
        if short > LEAST_SHORT:
            cost += short * p.shared.short_price[item]
    return cost
