"""Oven loads and packing mornings in which spools find room, where all lines are timed together.

As on the floor (`core.finishing`): each lot takes the first places that are left. A lot counts as arrived with its last
spools; the floor, which has the first ones on the shelf earlier, is never later than that.
"""

from __future__ import annotations

from stockplan.planner.core.search.clock import arrival
from stockplan.planner.core.search.compiled import compiled, compiled_inline
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.problem import NOTHING
from stockplan.planner.core.search.state import State, Trial


@compiled_inline
def write_room(p: Layout, t: Trial) -> None:
    """Write the places and the packing that are free at the start."""
    for load in range(p.shared.places.shape[0]):
        for oven in range(p.shared.places.shape[1]):
            t.places[load, oven] = p.shared.places[load, oven]
    for morning in range(len(p.shared.packing)):
        t.packing[morning] = p.shared.packing[morning]


@compiled_inline
def first_gate(p: Layout, row: int, end: int) -> int:
    """Return the first gate at or after a minute."""
    lo, hi = 0, p.shared.gate_min.shape[1]
    while lo < hi:
        middle = (lo + hi) // 2
        if p.shared.gate_min[row, middle] < end:
            lo = middle + 1
        else:
            hi = middle
    return lo


@compiled_inline
def dried(p: Layout, t: Trial, load: int, sku: int, spools: int) -> int:
    """Take places of an oven load and return how many spools found one."""
    if load == NOTHING or p.shared.places.shape[1] == 0:
        return spools
    found = 0
    for oven in range(p.shared.places.shape[1]):
        if p.shared.fits[sku, oven]:
            taken = min(spools - found, int(t.places[load, oven] / p.shared.places_each[sku] + 1e-9))
            t.places[load, oven] -= taken * p.shared.places_each[sku]
            found += taken
    return found


@compiled
def last_day(p: Layout, s: State, t: Trial, line: int, lot: int, end: int) -> int:
    """Find room for the spools of a lot that ends at a minute, and return the day on which the last arrive."""
    family = s.family[lot]
    if p.shared.gate_min.shape[1] == 0 or end >= p.far:
        return arrival(p, line, family, end)
    row, gates, last = p.finish[family], p.shared.gate_min.shape[1], 0
    first = first_gate(p, row, end)
    for k in range(p.sizes[family]):
        left, gate = s.units[lot, k], first
        while left > 0 and gate < gates:
            through, at = dried(p, t, p.shared.gate_load[row, gate], p.sku[family, k], left), gate
            left -= through
            while through > 0 and at < gates:
                taken = min(through, t.packing[p.shared.gate_shelf[row, at]])
                t.packing[p.shared.gate_shelf[row, at]] -= taken
                through -= taken
                if taken > 0:
                    last = max(last, p.shared.gate_day[row, at])
                at += 1
            left += through
            gate += 1
        if left > 0:
            last = p.days
    return int(min(last, p.days))
