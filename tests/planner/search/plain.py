"""What a plan costs, computed plainly from its definition: the compiled search is checked against it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np

from stockplan.planner.core.search.problem import NOTHING, SearchLine, SearchPlan, SearchProblem
from stockplan.planner.core.timing import Span

EVER = ((0, 10**9),)


def plain_cost(problem: SearchProblem, plan: SearchPlan) -> float:
    """Setups, what lines hold at the end, and each SKU's table row by row."""
    families = len(problem.release_min)
    arrived = np.zeros((len(problem.family_of), problem.days), dtype=int)
    cost, busy = 0.0, Counter[int]()
    holds = [families if line.holds == NOTHING else line.holds for line in problem.lines]
    minutes, left = [line.free_min for line in problem.lines], [list(lots) for lots in plan]
    while any(left):
        # The line that is free first decides first.
        at = min((_next_open(problem.lines[i], minutes[i]), i) for i, lots in enumerate(left) if lots)[1]
        line, lot = problem.lines[at], left[at].pop(0)
        skus = np.flatnonzero(problem.family_of == lot.family)
        cost += line.setup_cost[holds[at], lot.family]
        start = max(minutes[at], int(problem.release_min[lot.family]))
        setup = int(line.setup_min[holds[at], lot.family])
        start = _crewed(problem, line, start, setup, busy)
        end = _end(line, start, setup, _duration(line, skus, lot.units))
        minutes[at] = min(end, line.arrival_day.shape[1] - 1)
        day = int(line.arrival_day[problem.finish[lot.family], minutes[at]])
        for sku, units in zip(skus, lot.units, strict=True):
            arrived[sku, day:] += units
        holds[at] = lot.family
    cost += sum(line.setup_cost[held, families] for line, held in zip(problem.lines, holds, strict=True))
    days = np.arange(problem.days)
    return float(cost + sum(table[arrived[s], days].sum() for s, table in enumerate(problem.costs)))


def _next_open(line: SearchLine, minute: int) -> int:
    return next((max(lo, minute) for lo, hi in line.work or EVER if hi > minute), 10**9)


def _crewed(problem: SearchProblem, line: SearchLine, minute: int, setup: int, busy: Counter[int]) -> int:
    """First minute from which a crew is there for all of a setup, minute by minute; written down in `busy`."""
    spans = line.setups or EVER
    if not problem.crews or setup == 0 or all(hi - lo < setup for lo, hi in spans):
        return minute
    size = Counter({m: n for lo, hi, n in problem.crews for m in range(lo, hi)})
    starts = (m for lo, hi in spans for m in range(max(lo, minute), min(hi, 10**4) - setup + 1))
    found = next((m for m in starts if all(busy[k] < size[k] for k in range(m, m + setup))), None)
    if found is None:
        return 10**9
    busy.update(range(found, found + setup))
    return found


def _duration(line: SearchLine, skus: Sequence[int], units: Sequence[int]) -> int:
    winding = sum(n * line.unit_min[s] for s, n in zip(skus, units, strict=True) if n)
    return math.ceil(line.start_up_min + winding - 1e-9)


def _end(line: SearchLine, minute: int, setup: int, duration: int) -> int:
    spans = line.setups or EVER
    starts = [max(lo, minute) for lo, hi in spans if max(lo, minute) + setup <= hi and (hi > minute)]
    if starts:
        ready = starts[0] + setup
    elif all(hi - lo < setup for lo, hi in spans):
        ready = _worked(spans, minute, setup)
    else:
        return 10**9
    return _worked(line.work or EVER, ready, duration) if line.stops_outside else ready + duration


def _worked(spans: Sequence[Span], minute: int, work: int) -> int:
    open_minutes = [m for lo, hi in spans for m in range(max(lo, minute), min(hi, 10**5))]
    if work == 0:
        return next((max(lo, minute) for lo, hi in spans if hi > minute), 10**9)
    return open_minutes[work - 1] + 1 if len(open_minutes) >= work else 10**9
