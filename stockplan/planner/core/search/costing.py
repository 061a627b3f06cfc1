"""Times and costs of a plan, and of a move: only what the move changes is looked at again.

A move gives a line a new order made of pieces of the old one. A piece that begins at its old minute after its old
predecessor keeps all its times, so it is skipped; within a piece, so is all that follows a lot that ends as before.
A family is costed again only if an arrival day or the units of one of its lots changed.
"""

from __future__ import annotations

import math

import numpy as np

from stockplan.planner.core.search.clock import arrival, lot_end
from stockplan.planner.core.search.compiled import compiled
from stockplan.planner.core.search.crews import time_together
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.notes import begin, mark_edits, note_lot
from stockplan.planner.core.search.problem import NOTHING
from stockplan.planner.core.search.state import CHANGED, DIRTY, NEW, STAMP, TOUCHED, State, Trial


@compiled
def set_duration(p: Layout, s: State, lot: int) -> None:
    """Write start-up and winding of a lot on every line, whole minutes."""
    family = s.family[lot]
    for line in range(len(s.length)):
        minutes = p.start_up[line]
        for k in range(p.sizes[family]):
            if s.units[lot, k] > 0:
                minutes += s.units[lot, k] * p.unit_min[line, p.sku[family, k]]
        s.duration[lot, line] = math.ceil(min(minutes, p.far) - 1e-9) if minutes < np.inf else -1


@compiled
def count_units(p: Layout, s: State, sku: int, units: int) -> None:
    """Count units that are made besides, and take their items."""
    s.made[sku] += units
    for j in range(p.item.shape[1]):
        if p.item[sku, j] != NOTHING:
            s.left[p.item[sku, j]] -= units * p.item_use[sku, j]


@compiled
def count_lot(p: Layout, s: State, lot: int, times: int) -> None:
    """Count the units of a lot once more, or once less."""
    for k in range(p.sizes[s.family[lot]]):
        count_units(p, s, p.sku[s.family[lot], k], times * s.units[lot, k])


@compiled
def room_for(p: Layout, s: State, sku: int) -> int:
    """Return the units of an SKU that may still be made and for which there are items."""
    room = p.most[sku] - s.made[sku]
    for j in range(p.item.shape[1]):
        if p.item[sku, j] != NOTHING:
            room = min(room, int(max(s.left[p.item[sku, j]], 0.0) / p.item_use[sku, j] + 1e-6))
    return int(room)


@compiled
def day_now(s: State, t: Trial, lot: int) -> int:
    """Return a lot's day under the move."""
    return int(t.lot_day[lot] if t.lot_stamp[lot] == t.counter[STAMP] else s.day[lot])


@compiled
def family_cost(p: Layout, s: State, t: Trial, family: int) -> float:
    """Return the cost of a family's SKUs under the move, from the days and units of its lots."""
    lots = s.lots[family]
    days, order = t.by_day[0], t.by_day[1]
    n = 0
    for i in range(s.lot_count[family] + 1):
        lot = lots[i] if i < s.lot_count[family] else t.new[0]
        if lot == NOTHING or lot == t.gone[0] or s.family[lot] != family:
            continue
        day = day_now(s, t, lot)
        at = n
        while at > 0 and days[at - 1] > day:
            days[at], order[at] = days[at - 1], order[at - 1]
            at -= 1
        days[at], order[at] = day, lot
        n += 1
    total = 0.0
    for k in range(p.sizes[family]):
        sku = p.sku[family, k]
        row, day = p.base[sku], 0
        for i in range(n):
            if s.units[order[i], k] > 0:
                total += p.paid[row + days[i]] - p.paid[row + day]
                day = days[i]
                row += s.units[order[i], k] * (p.days + 1)
        total += p.paid[row + p.days] - p.paid[row + day]
    return total


@compiled
def time_line(p: Layout, s: State, t: Trial, at: int) -> float:
    """Time the new order of one line and return by how much its setup cost changes."""
    line, start = t.line[at], t.start[at]
    minute, holds = p.free[line], p.holds[line]
    if start > 0:
        before = s.seq[line, start - 1]
        minute, holds = s.end[before], s.family[before]
    table = p.table[line]
    delta = 0.0
    for b in range(t.pieces[at]):
        source, lo, hi = t.piece[at, b, 0], t.piece[at, b, 1], t.piece[at, b, 2]
        for k in range(lo, hi):
            lot = k if source == NEW else s.seq[source, k]
            family = s.family[lot]
            if s.duration[lot, line] < 0:
                return np.inf
            edge = s.edge[lot]
            if k == lo or source != line:
                edge = p.setup_cost[table, holds, family]
                delta += edge - s.edge[lot]
            end = lot_end(p, line, minute, holds, family, s.duration[lot, line])
            in_step = source == line and end == s.end[lot] and t.edit_stamp[lot] != t.counter[STAMP]
            if not in_step or edge != s.edge[lot]:
                note_lot(s, t, lot, edge, end, arrival(p, line, family, end))
            minute, holds = end, family
            if in_step:
                last = s.seq[source, hi - 1]
                minute, holds = s.end[last], s.family[last]
                break
    t.closing[at] = p.setup_cost[table, holds, len(p.release)]
    return float(delta + t.closing[at] - s.closing[line])


@compiled
def evaluate(p: Layout, s: State, t: Trial) -> float:
    """Return by how much a move changes the cost; infinite if a line cannot make a lot."""
    delta = 0.0
    if len(p.crews) > 0:
        delta = time_together(p, s, t)
    else:
        for at in range(t.counter[TOUCHED]):
            delta += time_line(p, s, t, at)
    if delta == np.inf:
        return delta
    delta -= mark_edits(s, t)
    for i in range(t.counter[DIRTY]):
        t.dirty_cost[i] = family_cost(p, s, t, t.dirty[i])
        delta += t.dirty_cost[i] - s.family_cost[t.dirty[i]]
    return delta


@compiled
def take(p: Layout, s: State, t: Trial) -> None:
    """Write a move on the plan."""
    take_times(s, t)
    for i in range(t.counter[DIRTY]):
        s.family_cost[t.dirty[i]] = t.dirty_cost[i]
    for at in range(t.counter[TOUCHED]):
        n = t.start[at]
        for b in range(t.pieces[at]):
            for k in range(t.piece[at, b, 1], t.piece[at, b, 2]):
                t.order[at, n] = k if t.piece[at, b, 0] == NEW else s.seq[t.piece[at, b, 0], k]
                n += 1
        t.pieces[at] = n
    for at in range(t.counter[TOUCHED]):
        line = t.line[at]
        s.closing[line], s.length[line] = t.closing[at], t.pieces[at]
        for k in range(t.start[at], t.pieces[at]):
            lot = t.order[at, k]
            s.seq[line, k], s.line[lot], s.place[lot] = lot, line, k
            s.stands[line, k + 1] = s.family[lot]
            s.late[line, k + 1] = s.late[line, k] + s.slope[lot]
        s.stands[line, t.pieces[at] + 1] = len(p.release)
    if t.gone[0] != NOTHING:
        leave(p, s, t.gone[0])
    if t.new[0] != NOTHING:
        enter(s, t.new[0])


@compiled
def take_times(s: State, t: Trial) -> None:
    """Write new times of lots on the plan, and what is short."""
    for i in range(t.counter[CHANGED]):
        s.edge[t.lot[i]], s.end[t.lot[i]], s.day[t.lot[i]] = t.edge[i], t.end[i], t.day[i]
    s.short[0] = t.short[0]


@compiled
def enter(s: State, lot: int) -> None:
    """Count a lot among those on the lines."""
    family, n = s.family[lot], s.active[-1]
    s.active[n], s.slot[lot] = lot, n
    s.active[-1] = n + 1
    s.lots[family, s.lot_count[family]] = lot
    s.lot_count[family] += 1


@compiled
def leave(p: Layout, s: State, lot: int) -> None:
    """Take a lot off the lines and give it back."""
    family, n = s.family[lot], s.active[-1] - 1
    last = s.active[n]
    s.active[s.slot[lot]], s.slot[last] = last, s.slot[lot]
    s.active[-1] = n
    for i in range(s.lot_count[family]):
        if s.lots[family, i] == lot:
            s.lots[family, i] = s.lots[family, s.lot_count[family] - 1]
            break
    s.lot_count[family] -= 1
    count_lot(p, s, lot, -1)
    for k in range(p.sizes[family]):
        s.units[lot, k] = 0
    s.unused[s.unused[-1]] = lot
    s.unused[-1] += 1


@compiled
def refresh(p: Layout, s: State, t: Trial) -> float:
    """Compute every time and cost of a plan anew and return its cost."""
    s.lot_count[:], s.made[:] = 0, 0
    for i in range(len(p.stock)):
        s.left[i] = p.stock[i]
    s.slot[:] = NOTHING
    s.active[-1] = 0
    begin(t)
    total = 0.0
    for line in range(len(s.length)):
        minute, holds, table = p.free[line], p.holds[line], p.table[line]
        s.stands[line, 0], s.stands[line, s.length[line] + 1] = holds, len(p.release)
        for k in range(s.length[line]):
            lot = s.seq[line, k]
            family = s.family[lot]
            set_duration(p, s, lot)
            enter(s, lot)
            s.line[lot], s.place[lot], s.stands[line, k + 1] = line, k, family
            s.edge[lot] = p.setup_cost[table, holds, family]
            minute = lot_end(p, line, minute, holds, family, s.duration[lot, line])
            s.end[lot], s.day[lot] = minute, arrival(p, line, family, minute)
            total += s.edge[lot]
            holds = family
            count_lot(p, s, lot, 1)
        s.closing[line] = p.setup_cost[table, holds, len(p.release)]
        total += s.closing[line]
    if len(p.crews) > 0:
        time_together(p, s, t)
        take_times(s, t)
        total += s.short[0]
    for family in range(len(p.release)):
        s.family_cost[family] = family_cost(p, s, t, family)
        total += s.family_cost[family]
    n = 0
    for lot in range(len(s.family) - 1, -1, -1):
        if s.slot[lot] == NOTHING:
            for k in range(s.units.shape[1]):
                s.units[lot, k] = 0
            s.unused[n] = lot
            n += 1
    s.unused[-1] = n
    return total
