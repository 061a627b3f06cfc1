"""What a plan costs, computed plainly from its definition: the compiled search is checked against it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from stockplan.planner.core.search.problem import NOTHING, SearchLine, SearchPlan, SearchProblem
from stockplan.planner.core.timing import Span

EVER = ((0, 10**9),)


def plain_cost(problem: SearchProblem, plan: SearchPlan) -> float:
    """Setups, what lines hold at the end, and each SKU's table row by row."""
    families = len(problem.release_min)
    arrived = np.zeros((len(problem.family_of), problem.days), dtype=int)
    cost = 0.0
    for line, lots in zip(problem.lines, plan, strict=True):
        minute, holds = line.free_min, families if line.holds == NOTHING else line.holds
        for lot in lots:
            skus = np.flatnonzero(problem.family_of == lot.family)
            cost += line.setup_cost[holds, lot.family]
            start = max(minute, int(problem.release_min[lot.family]))
            minute = _end(line, start, int(line.setup_min[holds, lot.family]), _duration(line, skus, lot.units))
            minute = min(minute, line.arrival_day.shape[1] - 1)
            day = int(line.arrival_day[problem.finish[lot.family], minute])
            for sku, units in zip(skus, lot.units, strict=True):
                arrived[sku, day:] += units
            holds = lot.family
        cost += line.setup_cost[holds, families]
    days = np.arange(problem.days)
    return float(cost + sum(table[arrived[s], days].sum() for s, table in enumerate(problem.costs)))


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
