"""The cheapest visits of one line as a shortest path over days and places held, compiled: see `visits`.

From place a to place e of one group, over the highest place u and the lowest m, a line goes up by

    height(u) - height(m) + min(0, height(e) - height(a))

and visits all places between u and m. Apart from what lies between a and e that is a sum of what going up from the
higher and down from the lower of them is worth, so a day takes time in proportion to the places. On its way to another
group a line leaves the first one at its lowest place, comes into each other one at its highest, and visits all of
those that it only goes through.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stockplan.planner.core.search.compiled import compiled, compiled_entry, sources_digest
from stockplan.planner.core.search.problem import NOTHING, Floats
from stockplan.planner.core.search.visit_tables import NEVER, VisitRoom, Walk

Entry = Callable[[Walk, Floats, Floats, int, VisitRoom], float]
# A group is left with visits to it before, and without; it is entered from another one, and coming back to it.
VISITED, STRAIGHT = 0, 1
ANEW, BACK = 0, 1


@compiled
def reach(w: Walk, pi: float, worth: Floats, r: VisitRoom, day: int) -> None:
    """Write what it costs to also go up from each place, and down and back, as far as that is good."""
    for at in range(len(w.height)):
        r.worth[day, at + 1] = r.worth[day, at] + worth[at, day]
    for g in range(len(w.first) - 1):
        lo, hi = w.first[g], w.first[g + 1]
        for at in range(lo, hi):
            r.up[day, at], r.highest[day, at] = 0.0, at
            if at > lo:
                cost = r.up[day, at - 1] + pi * (w.height[at - 1] - w.height[at]) - worth[at - 1, day]
                if cost < 0.0:
                    r.up[day, at], r.highest[day, at] = cost, r.highest[day, at - 1]
        for at in range(hi - 1, lo - 1, -1):
            r.down[day, at], r.lowest[day, at] = 0.0, at
            if at < hi - 1:
                cost = r.down[day, at + 1] + pi * (w.height[at] - w.height[at + 1]) - worth[at + 1, day]
                if cost < 0.0:
                    r.down[day, at], r.lowest[day, at] = cost, r.lowest[day, at + 1]


@compiled
def arrive(r: VisitRoom, day: int, at: int, cost: float, before: int, through: int) -> None:
    """Note a way to hold a place at the end of a day, if it is the cheapest."""
    if cost < r.cost[day + 1, at]:
        r.cost[day + 1, at], r.before[day, at], r.through[day, at] = cost, before, through


@compiled
def stay(w: Walk, pi: float, r: VisitRoom, day: int, g: int) -> None:
    """Go from each place of a group to each other, down and up."""
    best, before = np.inf, NOTHING
    for at in range(w.first[g], w.first[g + 1]):
        cost = r.cost[day, at] + r.up[day, at] + r.worth[day, at]
        if cost < best:
            best, before = cost, at
        arrive(r, day, at, best + r.down[day, at] - r.worth[day, at + 1], before, 0)
    best = np.inf
    for at in range(w.first[g + 1] - 1, w.first[g] - 1, -1):
        arrive(r, day, at, best + r.up[day, at] + pi * w.height[at] + r.worth[day, at], before, 0)
        cost = r.cost[day, at] + r.down[day, at] - pi * w.height[at] - r.worth[day, at + 1]
        if cost < best:
            best, before = cost, at


@compiled
def leave_groups(w: Walk, r: VisitRoom, day: int) -> None:
    """Write the cheapest places from which to leave each group."""
    r.left[:], r.entered[:] = np.inf, np.inf
    for at in range(len(w.height)):
        g = w.group[at]
        cost = r.cost[day, at] + r.up[day, at] + r.worth[day, at] - r.worth[day, w.first[g + 1]]
        if cost < r.left[VISITED, g]:
            r.left[VISITED, g], r.left_at[VISITED, g] = cost, at
        if r.cost[day, at] < r.left[STRAIGHT, g]:
            r.left[STRAIGHT, g], r.left_at[STRAIGHT, g] = r.cost[day, at], at


@compiled
def go_through(w: Walk, pi: float, r: VisitRoom, day: int, through: int) -> None:
    """Go from each group through a set of groups to the last of them, and keep the cheapest ways to each."""
    groups = len(w.first) - 1
    worth = 0.0
    for g in range(groups):
        if through >> g & 1:
            worth += r.worth[day, w.first[g + 1]] - r.worth[day, w.first[g]]
    for g in range(groups):
        # A group that the line comes back to is visited then.
        how = STRAIGHT if through >> g & 1 else VISITED
        for last in range(groups):
            minutes = w.ways[through, g, last]
            if minutes < NEVER:
                cost, into = r.left[how, g] + pi * minutes - worth, BACK if last == g else ANEW
                if cost < r.entered[into, last]:
                    r.entered[into, last], r.entered_from[into, last] = cost, r.left_at[how, g]
                    r.entered_through[into, last] = through


@compiled
def end_in(w: Walk, r: VisitRoom, day: int, g: int) -> None:
    """End the day at any place of a group entered; coming back to it, all of it may be visited, a part before."""
    lo, hi = w.first[g], w.first[g + 1]
    for at in range(lo, hi):
        below = r.worth[day, hi] - r.worth[day, at + 1] + r.down[day, at]
        arrive(r, day, at, r.entered[ANEW, g] + below, r.entered_from[ANEW, g], r.entered_through[ANEW, g])
        arrive(r, day, at, r.entered[BACK, g], r.entered_from[BACK, g], r.entered_through[BACK, g])


@compiled
def visit(r: VisitRoom, day: int, lo: int, hi: int) -> None:
    """Note a visit to all places from lo to before hi."""
    for at in range(lo, hi):
        r.visits[at, day] = 1.0


@compiled
def write_day(w: Walk, r: VisitRoom, day: int, before: int, at: int) -> None:
    """Write what a line visits on a day, and how long its ways take."""
    through, up = r.through[day, at], r.highest[day, before]
    if through == 0:
        higher, lower = min(before, at), max(before, at)
        up, down = r.highest[day, higher], r.lowest[day, lower]
        visit(r, day, up, down + 1)
        r.minutes[day] = w.height[up] - w.height[down] + min(0.0, w.height[at] - w.height[before])
        return
    g, last = w.group[before], w.group[at]
    r.minutes[day] = w.ways[through, g, last]
    for other in range(len(w.first) - 1):
        if through >> other & 1 and (other != last or last == g):
            visit(r, day, w.first[other], w.first[other + 1])
    if not through >> g & 1:
        visit(r, day, up, w.first[g + 1])
        r.minutes[day] += w.height[up] - w.height[before]
    if last != g:
        down = r.lowest[day, at]
        visit(r, day, w.first[last], down + 1)
        r.minutes[day] += w.height[at] - w.height[down]


def _entry(digest: str) -> Entry:
    @compiled_entry
    def cheapest_visits(w: Walk, pi: Floats, worth: Floats, holds: int, r: VisitRoom) -> float:
        digest  # noqa: B018  belongs to the key of the kept machine code
        days, groups = len(pi), len(w.first) - 1
        r.visits[:], r.minutes[:] = 0.0, 0.0
        for at in range(len(w.height)):
            r.cost[0, at] = 0.0 if holds in (NOTHING, at) else np.inf
        for day in range(days):
            r.cost[day + 1, :] = np.inf
            reach(w, pi[day], worth, r, day)
            for g in range(groups):
                stay(w, pi[day], r, day, g)
            leave_groups(w, r, day)
            for through in range(1, 2**groups):
                go_through(w, pi[day], r, day, through)
            for g in range(groups):
                end_in(w, r, day, g)
        at = int(r.cost[days].argmin())
        found = r.cost[days, at]
        for day in range(days - 1, -1, -1):
            write_day(w, r, day, r.before[day, at], at)
            at = r.before[day, at]
        return float(found)

    return cheapest_visits


cheapest_visits = _entry(sources_digest())
