"""The cheapest lots of each family as a shortest path over the days on which one arrives, compiled: see `bound`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stockplan.planner.core.search.compiled import compiled, compiled_entry, sources_digest
from stockplan.planner.core.search.path_tables import LotPrices, Paths, Scratch, Tables
from stockplan.planner.core.search.problem import NOTHING

Entry = Callable[[Tables, LotPrices, Paths, Scratch], float]


@compiled
def price_rows(p: Tables, price: LotPrices, w: Scratch) -> None:
    """Write what each number of units costs until each day, with the units at the price of a lot on that day."""
    for sku in range(len(p.row)):
        for units in range(p.rows[sku]):
            for t in range(p.paid.shape[1]):
                w.priced[p.row[sku] + units, t] = p.paid[p.row[sku] + units, t] - units * price.unit[sku, t]


@compiled
def choice_cost(p: Tables, w: Scratch, family: int, choice: int, s: int, t: int) -> float:
    """Return what the days from a lot on day s to one on day t cost with the units of a choice."""
    cost = 0.0
    for k in range(p.first[family], p.first[family + 1]):
        at = p.row[p.sku[k]] + p.choices[choice, k - p.first[family]]
        cost += w.priced[at, t] - w.priced[at, s]
    return cost


@compiled
def best_choice(p: Tables, w: Scratch, family: int, s: int, t: int) -> int:
    """Return the cheapest choice of units from a lot on day s until day t."""
    best, least = p.choice[family], np.inf
    for choice in range(p.choice[family], p.choice[family + 1]):
        cost = choice_cost(p, w, family, choice, s, t)
        if cost < least:
            best, least = choice, cost
    return int(best)


@compiled
def price_arcs(p: Tables, w: Scratch, family: int, s: int) -> None:
    """Write the least that the days from a lot on day s to each later one cost, over the units of each SKU."""
    if p.choice[family] < p.choice[family + 1]:
        w.arc[:] = np.inf
        for choice in range(p.choice[family], p.choice[family + 1]):
            for t in range(s + 1, len(w.arc)):
                cost = choice_cost(p, w, family, choice, s, t)
                w.arc[t] = cost if cost < w.arc[t] else w.arc[t]
        return
    w.arc[:] = 0.0
    for k in range(p.first[family], p.first[family + 1]):
        sku = p.sku[k]
        w.least[:] = np.inf
        for at in range(p.row[sku], p.row[sku] + p.rows[sku]):
            now = w.priced[at, s]
            for t in range(s + 1, len(w.arc)):
                cost = w.priced[at, t] - now
                w.least[t] = cost if cost < w.least[t] else w.least[t]
        for t in range(s + 1, len(w.arc)):
            w.arc[t] += w.least[t]


@compiled
def shortest_path(p: Tables, price: LotPrices, w: Scratch, family: int) -> None:
    """Write the cost, the lot before and the kind of the best lot on each day."""
    end = len(w.path) - 1
    anew, own, held = price.anew[family], price.own[family], price.held[family]
    for t in range(end + 1):
        w.path[t] = p.before[family, t] + (anew[t] if t < end else 0.0)
        w.before[t], w.is_own[t] = NOTHING, 0
    for s in range(end):
        price_arcs(p, w, family, s)
        for t in range(s + 1, end + 1):
            lot, goes_on = 0.0, 0
            if t < end:
                lot = own[t] + held[t] - held[s]
                goes_on = 1 if lot < anew[t] else 0
                lot = min(lot, anew[t])
            cost = w.path[s] + w.arc[t] + lot
            if cost < w.path[t]:
                w.path[t], w.before[t], w.is_own[t] = cost, s, goes_on


@compiled
def best_units(p: Tables, w: Scratch, sku: int, s: int, t: int) -> int:
    """Return the units of an SKU from a lot on day s until day t."""
    best = 0
    for units in range(1, p.rows[sku]):
        at, least = p.row[sku] + units, p.row[sku] + best
        if w.priced[at, t] - w.priced[at, s] < w.priced[least, t] - w.priced[least, s]:
            best = units
    return best


@compiled
def write_lots(p: Tables, w: Scratch, out: Paths, family: int) -> None:
    """Write the lots of a family's path, from the last to the first."""
    t = len(w.path) - 1
    out.cost[family] = w.path[t]
    while w.before[t] != NOTHING:
        s = w.before[t]
        out.is_lot[family, s], out.is_own[family, s], out.after[family, s] = 1, w.is_own[s], w.before[s]
        is_joint = p.choice[family] < p.choice[family + 1]
        choice = best_choice(p, w, family, s, t) if is_joint else NOTHING
        for k in range(p.first[family], p.first[family + 1]):
            units = p.choices[choice, k - p.first[family]] if is_joint else best_units(p, w, p.sku[k], s, t)
            out.made[p.sku[k], s] += units
            if t < len(w.path) - 1:
                out.made[p.sku[k], t] -= units
        t = s


def _entry(digest: str) -> Entry:
    @compiled_entry
    def cheapest_paths(p: Tables, price: LotPrices, out: Paths, w: Scratch) -> float:
        digest  # noqa: B018  belongs to the key of the kept machine code
        out.made[:], out.is_lot[:], out.is_own[:], out.after[:] = 0.0, 0, 0, NOTHING
        price_rows(p, price, w)
        for family in range(len(out.cost)):
            shortest_path(p, price, w, family)
            write_lots(p, w, out, family)
        return float(out.cost.sum())

    return cheapest_paths


cheapest_paths = _entry(sources_digest())
