"""What a move will cost, guessed for a fraction of the work, so that hopeless moves are never timed in full.

Lots that a move puts elsewhere are timed as they will be, each behind the lot before it, and so is the last lot of a
line, which has to begin before the last setup; the others only shift, and pay by the minute what their family costs
more if they come half a day later than half a day earlier. No guess enters the cost of a plan.

References
----------
Christen & Fox, Markov chain Monte Carlo using an approximation, Journal of Computational and Graphical Statistics 14
(2005) 795-810 (from memory): moves screened by a cheap likeness of their cost.
"""

from __future__ import annotations

import numpy as np

from stockplan.planner.core.search.clock import add_work, arrival, first_span, lot_end
from stockplan.planner.core.search.compiled import compiled, compiled_inline
from stockplan.planner.core.search.costing import family_cost
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.notes import begin, mark_edits, mark_family
from stockplan.planner.core.search.problem import NOTHING
from stockplan.planner.core.search.state import DIRTY, EDITED, NEW, STAMP, TOUCHED, State, Trial

# Lots of a piece that are timed one by one.
SHORT = 3
# Minutes by which a lot is thought earlier and later to see what its minutes cost: about half a day of two shifts.
REACH = 480


@compiled_inline
def later(p: Layout, line: int, minute: int, by: int) -> int:
    """Return the minute that is so many running minutes of a line after another; roughly where they are negative."""
    if by <= 0 or not p.stops[line]:
        return int(max(minute + by, 0))
    return add_work(p, p.work[line], minute, by)


@compiled_inline
def running_before(p: Layout, line: int, minute: int) -> int:
    """Return the running minutes of a line before a minute."""
    if not p.stops[line]:
        return int(minute)
    calendar = p.work[line]
    k = first_span(p, calendar, minute)
    if k == p.spans[calendar]:
        return int(p.opened[calendar, k])
    return int(p.opened[calendar, k] + max(minute - p.span_lo[calendar, k], 0))


@compiled_inline
def cost_on_day(p: Layout, s: State, t: Trial, lot: int, day: int) -> float:
    """Return the cost of a lot's family if the lot came on a day."""
    t.lot_stamp[lot], t.lot_day[lot] = t.counter[STAMP], day
    return family_cost(p, s, t, s.family[lot])


@compiled
def slope_of(p: Layout, s: State, t: Trial, lot: int) -> float:
    """Return what a lot costs more for each minute by which it is later."""
    line, family, end = s.line[lot], s.family[lot], s.end[lot]
    first = arrival(p, line, family, later(p, line, end, -REACH))
    last = arrival(p, line, family, min(later(p, line, end, REACH), p.far))
    if first == last:
        return 0.0
    begin(t)
    return float((cost_on_day(p, s, t, lot, last) - cost_on_day(p, s, t, lot, first)) / (2 * REACH))


@compiled
def learn_slopes(p: Layout, s: State, t: Trial) -> None:
    """Find what minutes cost along every line."""
    for line in range(len(s.length)):
        for k in range(s.length[line]):
            lot = s.seq[line, k]
            s.slope[lot] = slope_of(p, s, t, lot)
            s.late[line, k + 1] = s.late[line, k] + s.slope[lot]


@compiled_inline
def note_day(p: Layout, s: State, t: Trial, line: int, lot: int, end: int) -> None:
    """Note the day on which a lot would come."""
    day = arrival(p, line, s.family[lot], end)
    t.lot_stamp[lot], t.lot_day[lot] = t.counter[STAMP], day
    if day != s.day[lot]:
        mark_family(t, s.family[lot])


@compiled
def end_of_rest(p: Layout, s: State, t: Trial, at: int, source: int, hi: int) -> int:
    """Return when the last lot of a piece ends, if the one before it shifts as the rest of the line does."""
    line, before, last = t.line[at], s.seq[source, hi - 2], s.seq[source, hi - 1]
    if t.shift[at] == 0:
        return int(s.end[last])
    ready = later(p, line, s.end[before], t.shift[at])
    end = lot_end(p, line, ready, s.family[before], s.family[last], s.duration[last, line])
    note_day(p, s, t, line, last, end)
    return end


@compiled
def guess_line(p: Layout, s: State, t: Trial, at: int) -> float:
    """Guess what the new order of one line costs more, but for families of lots put elsewhere."""
    line, start, table = t.line[at], t.start[at], p.table[t.line[at]]
    minute, holds = p.free[line], p.holds[line]
    if start > 0:
        before = s.seq[line, start - 1]
        minute, holds = s.end[before], s.family[before]
    delta, t.shift[at] = 0.0, 0
    for b in range(t.pieces[at]):
        source, lo, hi = t.piece[at, b, 0], t.piece[at, b, 1], t.piece[at, b, 2]
        is_short = hi - lo <= SHORT and (source != line or b < t.pieces[at] - 1)
        for k in range(lo, hi):
            lot = k if source == NEW else s.seq[source, k]
            if s.duration[lot, line] < 0:
                return np.inf
            edge = p.setup_cost[table, holds, s.family[lot]]
            delta += edge - s.edge[lot]
            minute = lot_end(p, line, minute, holds, s.family[lot], s.duration[lot, line])
            holds = s.family[lot]
            if is_short:
                note_day(p, s, t, line, lot, minute)
                continue
            t.shift[at] = running_before(p, line, minute) - running_before(p, line, s.end[lot])
            if hi - lo == 1:
                note_day(p, s, t, line, lot, minute)
                continue
            delta += t.shift[at] * (s.late[source, hi - 1] - s.late[source, lo])
            minute, holds = end_of_rest(p, s, t, at, source, hi), s.family[s.seq[source, hi - 1]]
            break
    return float(delta + p.setup_cost[table, holds, len(p.release)] - s.closing[line])


@compiled
def guess(p: Layout, s: State, t: Trial) -> float:
    """Guess by how much a move changes the cost; infinite if a line cannot make a lot."""
    delta = 0.0
    for at in range(t.counter[TOUCHED]):
        delta += guess_line(p, s, t, at)
    delta -= mark_edits(s, t)
    for i in range(t.counter[DIRTY]):
        delta += family_cost(p, s, t, t.dirty[i]) - s.family_cost[t.dirty[i]]
    forget(t)
    return delta


@compiled
def forget(t: Trial) -> None:
    """Forget the days of a guess, but keep the move."""
    t.counter[STAMP] += 1
    t.counter[DIRTY] = 0
    for i in range(t.counter[EDITED]):
        t.edit_stamp[t.edited[i]] = t.counter[STAMP]
    if t.new[0] != NOTHING:
        t.edit_stamp[t.new[0]] = t.counter[STAMP]
