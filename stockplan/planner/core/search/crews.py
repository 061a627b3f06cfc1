"""All lines timed together, where crews limit how many setups are made at once, or lots share hoppers, ovens, items.

As on the floor: the line that is free first decides first, and takes the first minute from which its resin is dry and
a crew is there for the whole of its setup.
"""

from __future__ import annotations

import numpy as np

from stockplan.planner.core.search.clock import add_work, first_span
from stockplan.planner.core.search.compiled import compiled, compiled_inline
from stockplan.planner.core.search.dryers import charge, fed_duration, resin_kg, take_charge, write_hoppers
from stockplan.planner.core.search.finishing import last_day, write_room
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.notes import note_lot
from stockplan.planner.core.search.problem import NOTHING
from stockplan.planner.core.search.purging import count_purge, nothing_purged, shortage
from stockplan.planner.core.search.state import NEW, STAMP, TOUCHED, State, Trial

# Rows of `Trial.now`.
LOTS, NEXT, DECIDES, HOLDS = 0, 1, 2, 3


@compiled_inline
def next_open(p: Layout, calendar: int, minute: int) -> int:
    """Return the first open minute at or after a minute."""
    k = first_span(p, calendar, minute)
    return int(max(p.span_lo[calendar, k], minute)) if k < p.spans[calendar] else p.far


@compiled_inline
def crew_size(p: Layout, minute: int) -> int:
    """Return how many setups can be made at a minute."""
    size = 0
    for w in range(p.crews.shape[0]):
        if p.crews[w, 0] <= minute < p.crews[w, 1]:
            size += p.crews[w, 2]
    return size


@compiled_inline
def taken_at(t: Trial, count: int, minute: int) -> int:
    """Return how many setups are made at a minute."""
    taken = 0
    for i in range(count):
        taken += t.busy[i, 0] <= minute < t.busy[i, 1]
    return taken


@compiled_inline
def is_clash(p: Layout, t: Trial, count: int, step: int) -> bool:
    """Say whether all crews are taken at a minute."""
    return bool(taken_at(t, count, step) >= crew_size(p, step))


@compiled_inline
def first_clash(p: Layout, t: Trial, count: int, start: int, end: int) -> int:
    """Return the first minute of a setup at which no crew is there, NOTHING if there is none.

    Crews change only where a setup begins or a window does.
    """
    if is_clash(p, t, count, start):
        return start
    found = end
    for i in range(count):
        step = t.busy[i, 0]
        if start < step < found and is_clash(p, t, count, step):
            found = step
    for w in range(p.crews.shape[0]):
        for edge in range(2):
            step = p.crews[w, edge]
            if start < step < found and is_clash(p, t, count, step):
                found = step
    return found if found < end else NOTHING


@compiled_inline
def after_clash(p: Layout, t: Trial, count: int, step: int, end: int) -> int:
    """Return the next minute at which a crew may be there."""
    found = p.far
    for i in range(count):
        if t.busy[i, 0] <= step < t.busy[i, 1]:
            found = min(found, t.busy[i, 1])
    for w in range(p.crews.shape[0]):
        if p.crews[w, 0] > step:
            found = min(found, p.crews[w, 0])
    return found if found < p.far else end


@compiled_inline
def crewed_setup(p: Layout, t: Trial, count: int, calendar: int, minute: int, work: int) -> int:
    """Return the first minute from which a setup can be made in one go by a crew; `far` if never.

    One that is longer than every span waits for no crew: it is begun at the first open minute.
    """
    for k in range(first_span(p, calendar, minute), p.spans[calendar]):
        start = max(p.span_lo[calendar, k], minute)
        while start + work <= p.span_hi[calendar, k]:
            clash = first_clash(p, t, count, start, start + work)
            if clash == NOTHING:
                return int(start)
            start = after_clash(p, t, count, clash, start + work)
    longest = 0
    for k in range(p.spans[calendar]):
        longest = max(longest, p.span_hi[calendar, k] - p.span_lo[calendar, k])
    return next_open(p, calendar, minute) if longest < work else p.far


@compiled_inline
def crewed_end(p: Layout, t: Trial, count: int, line: int, minute: int, setup: int, duration: int) -> int:
    """Return the end of a lot, and write its setup as number `count` on the board of the crews."""
    start = minute
    if setup == 0:
        ready = next_open(p, p.setups[line], minute)
        start = ready
    else:
        start = crewed_setup(p, t, count, p.setups[line], minute, setup)
        ready = add_work(p, p.setups[line], start, setup) if start < p.far else p.far
    t.busy[count, 0], t.busy[count, 1] = start, ready
    if not p.stops[line]:
        return int(min(ready + duration, p.far))
    return int(min(add_work(p, p.work[line], ready, duration), p.far))


@compiled_inline
def write_orders(p: Layout, s: State, t: Trial) -> None:
    """Write the order that every line has under the move, and the line as it stands at the start."""
    for line in range(len(s.length)):
        t.now[LOTS, line], t.now[NEXT, line] = s.length[line], 0
        t.now[DECIDES, line], t.now[HOLDS, line] = next_open(p, p.work[line], p.free[line]), p.holds[line]
        for k in range(s.length[line]):
            t.whole[line, k] = s.seq[line, k]
    for at in range(t.counter[TOUCHED]):
        n = t.start[at]
        for b in range(t.pieces[at]):
            source = t.piece[at, b, 0]
            for k in range(t.piece[at, b, 1], t.piece[at, b, 2]):
                t.whole[t.line[at], n] = k if source == NEW else s.seq[source, k]
                n += 1
        t.now[LOTS, t.line[at]] = n


@compiled_inline
def first_free(t: Trial) -> int:
    """Return the line that decides first among those with a further lot, NOTHING if there is none."""
    found, first = NOTHING, 0
    for line in range(t.now.shape[1]):
        if t.now[NEXT, line] < t.now[LOTS, line] and (found == NOTHING or t.now[DECIDES, line] < first):
            found, first = line, t.now[DECIDES, line]
    return found


@compiled_inline
def still_busy(t: Trial, count: int, minute: int) -> int:
    """Leave the setups that are done by a minute off the board; lines decide one after the other."""
    kept = 0
    for i in range(count):
        if t.busy[i, 1] > minute:
            t.busy[kept, 0], t.busy[kept, 1] = t.busy[i, 0], t.busy[i, 1]
            kept += 1
    return kept


@compiled
def time_together(p: Layout, s: State, t: Trial) -> float:
    """Time the new order of all lines and return by how much setups cost more; infinite if one cannot make a lot."""
    write_orders(p, s, t)
    nothing_purged(t)
    write_hoppers(p, t)
    write_room(p, t)
    delta, count = 0.0, 0
    while True:
        line = first_free(t)
        if line == NOTHING:
            break
        lot, holds, table = t.whole[line, t.now[NEXT, line]], t.now[HOLDS, line], p.table[line]
        family = s.family[lot]
        if s.duration[lot, line] < 0:
            return np.inf
        kg = resin_kg(p, s, line, holds, lot)
        count = still_busy(t, count, t.now[DECIDES, line])
        minute = charge(p, t, family, kg, max(t.now[DECIDES, line], p.release[family]))
        duration = fed_duration(p, s, t, line, lot)
        end = crewed_end(p, t, count, line, minute, p.setup_min[table, holds, family], duration)
        take_charge(p, t, family, kg, t.busy[count, 0], end)
        count_purge(p, t, line, holds, family)
        edge = p.setup_cost[table, holds, family]
        delta += edge - s.edge[lot]
        day = last_day(p, s, t, line, lot, end)
        if end != s.end[lot] or day != s.day[lot] or edge != s.edge[lot] or t.edit_stamp[lot] == t.counter[STAMP]:
            note_lot(s, t, lot, edge, end, day)
        t.now[NEXT, line] += 1
        t.now[DECIDES, line], t.now[HOLDS, line] = next_open(p, p.work[line], end), family
        count += 1
    for at in range(t.counter[TOUCHED]):
        line = t.line[at]
        t.closing[at] = p.setup_cost[p.table[line], t.now[HOLDS, line], len(p.release)]
        delta += t.closing[at] - s.closing[line]
    t.short[0] = shortage(p, s, t)
    return float(delta + t.short[0] - s.short[0])
