"""Hoppers in which the resin of lots is dried, where all lines are timed together.

As on the floor (`core.drying`): a lot takes the hopper that has its resin dry first. Equals: one that holds it dry
already, then one that is not emptied for it, then the smallest that is large enough.
"""

from __future__ import annotations

import math

import numpy as np

from stockplan.planner.core.search.compiled import compiled, compiled_inline
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.problem import NEVER, NOTHING
from stockplan.planner.core.search.state import State, Trial

# Columns of `Trial.hopper`.
MATERIAL, SINCE, FREE = 0, 1, 2
# Entries of `Trial.charge`: hopper, minute from which it dries, minute at which it is dry, whether that is in it.
HOPPER, LOAD, READY, LOADED, KEY = 0, 1, 2, 3, 4


@compiled_inline
def write_hoppers(p: Layout, t: Trial) -> None:
    """Write the hoppers as they stand at the start."""
    for h in range(len(p.shared.hopper_kg)):
        for column in range(t.hopper.shape[1]):
            t.hopper[h, column] = p.shared.hopper[h, column]
        t.hopper_left[h] = p.shared.hopper_left[h]


@compiled_inline
def resin_kg(p: Layout, s: State, line: int, holds: int, lot: int) -> float:
    """Return the resin that a lot takes with the purge before it; 0 where it is not dried."""
    family = s.family[lot]
    if p.shared.dries[family] == NOTHING:
        return 0.0
    kg = p.shared.purge_kg[line, holds, family] * p.shared.resin_share[family]
    for k in range(p.sizes[family]):
        kg += s.units[lot, k] * p.shared.unit_kg[line, p.sku[family, k]]
    return float(kg)


@compiled_inline
def offer(t: Trial, hopper: int, load: int, ready: int, by: int, loaded: int, emptied: int) -> None:
    """Keep a way to have the resin dry if it is better than the one kept."""
    key = 4 * max(ready, by) + 2 * (1 - loaded) + emptied
    if t.charge[HOPPER] == NOTHING or key < t.charge[KEY]:
        t.charge[HOPPER], t.charge[LOAD], t.charge[READY], t.charge[LOADED] = hopper, load, ready, loaded
        t.charge[KEY] = key


@compiled
def look(p: Layout, t: Trial, material: int, least: float, by: int) -> float:
    """Keep the best way that gives at least so much resin; return the most that any gives."""
    dry, most = p.shared.dry_min[material], 0.0
    for h in range(len(p.shared.hopper_kg)):
        same, since, free = t.hopper[h, MATERIAL] == material, t.hopper[h, SINCE], t.hopper[h, FREE]
        is_loaded = False
        if same and since != NEVER:
            ready = max(since + dry, free)
            gives = np.inf if p.shared.hopper_feeds[h] else t.hopper_left[h]
            is_loaded = p.shared.hopper_feeds[h] or since + dry + p.shared.keeps_min[material] > ready
            if is_loaded:
                most = max(most, gives)
                if gives >= least:
                    offer(t, h, since, ready, by, 1, 0)
        if not (is_loaded and p.shared.hopper_feeds[h]):
            emptied = t.hopper[h, MATERIAL] != NOTHING and not same
            load = free + (p.shared.clean_min[h] if emptied else 0)
            gives = np.inf if p.shared.hopper_feeds[h] else p.shared.hopper_kg[h]
            most = max(most, gives)
            if gives >= least:
                offer(t, h, load, load + dry, by, 0, 1 if emptied else 0)
    return float(most)


@compiled
def charge(p: Layout, t: Trial, family: int, kg: float, by: int) -> int:
    """Find the hopper for a lot and return the minute from which it can begin, not before `by`."""
    t.charge[HOPPER] = NOTHING
    if p.shared.dries[family] == NOTHING or len(p.shared.hopper_kg) == 0:
        return by
    most = look(p, t, p.shared.dries[family], kg - 1e-9, by)
    if t.charge[HOPPER] == NOTHING:
        # Too much for any of them: the largest is filled as often as it takes.
        look(p, t, p.shared.dries[family], most, by)
    return int(max(by, t.charge[READY]))


@compiled
def fed_duration(p: Layout, s: State, t: Trial, line: int, lot: int) -> int:
    """Return start-up and winding of a lot where a hopper that dries as it feeds may hold it up."""
    family, h = s.family[lot], t.charge[HOPPER]
    if h == NOTHING or not p.shared.hopper_feeds[h]:
        return int(s.duration[lot, line])
    slower = p.shared.kg_h[line, family] * p.shared.dry_min[p.shared.dries[family]] / (60.0 * p.shared.hopper_kg[h])
    if slower <= 1.0:
        return int(s.duration[lot, line])
    winding = 0.0
    for k in range(p.sizes[family]):
        if s.units[lot, k] > 0:
            winding += s.units[lot, k] * p.unit_min[line, p.sku[family, k]]
    return int(min(math.ceil(p.start_up[line] + slower * winding - 1e-9), p.far))


@compiled
def take_charge(p: Layout, t: Trial, family: int, kg: float, start: int, end: int) -> None:
    """Write on its hopper that a lot takes its resin."""
    h = t.charge[HOPPER]
    if h == NOTHING or end >= p.far:
        return
    material, since = p.shared.dries[family], t.charge[LOAD]
    dry = p.shared.dry_min[material]
    full = t.hopper_left[h] if t.charge[LOADED] == 1 else p.shared.hopper_kg[h]
    is_kept = start <= since + dry + p.shared.keeps_min[material]
    if t.charge[LOADED] == 0 or not (is_kept or p.shared.hopper_feeds[h]):
        since = max(since, start - dry)
    t.hopper_left[h] = full if p.shared.hopper_feeds[h] else max(full - kg, 0.0)
    t.hopper[h, MATERIAL], t.hopper[h, SINCE] = material, since
    t.hopper[h, FREE] = max(end, t.hopper[h, FREE])
