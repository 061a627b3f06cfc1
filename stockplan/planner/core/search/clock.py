"""When a lot ends on a line: setup in one go, winding over the line's working time, arrival by the line's table."""

from __future__ import annotations

from stockplan.planner.core.search.compiled import compiled, compiled_inline
from stockplan.planner.core.search.layout import BUCKET, Layout


@compiled_inline
def first_span(p: Layout, calendar: int, minute: int) -> int:
    """Return the first span that ends after a minute."""
    k = p.first_span[calendar, min(minute, p.far) // BUCKET]
    while k < p.spans[calendar] and p.span_hi[calendar, k] <= minute:
        k += 1
    return int(k)


@compiled
def add_work(p: Layout, calendar: int, minute: int, work: int) -> int:
    """Return when `work` open minutes from a minute on are done."""
    k = first_span(p, calendar, minute)
    while k < p.spans[calendar]:
        begin = max(p.span_lo[calendar, k], minute)
        if begin + work <= p.span_hi[calendar, k]:
            return int(begin + work)
        work -= p.span_hi[calendar, k] - begin
        k += 1
    return p.far


@compiled
def setup_end(p: Layout, calendar: int, minute: int, work: int) -> int:
    """Return the end of a setup: in one go within a span; spread over spans only where it is longer than all."""
    longest = 0
    for k in range(p.spans[calendar]):
        longest = max(longest, p.span_hi[calendar, k] - p.span_lo[calendar, k])
        begin = max(p.span_lo[calendar, k], minute)
        if begin + work <= p.span_hi[calendar, k]:
            return int(begin + work)
    return add_work(p, calendar, minute, work) if longest < work else p.far


@compiled
def setup_done(p: Layout, calendar: int, minute: int, work: int) -> int:
    """Return the end of a setup that begins at a minute or later."""
    k = first_span(p, calendar, minute)
    if k < p.spans[calendar]:
        begin = max(p.span_lo[calendar, k], minute)
        if begin + work <= p.span_hi[calendar, k]:
            return int(begin + work)
    return setup_end(p, calendar, minute, work)


@compiled
def lot_end(p: Layout, line: int, minute: int, holds: int, family: int, duration: int) -> int:
    """Return the minute at which a lot ends that the line begins after `minute`, holding another family."""
    setup = p.setup_min[p.table[line], holds, family]
    ready = setup_done(p, p.setups[line], max(minute, p.release[family]), setup)
    if not p.stops[line]:
        return int(min(ready + duration, p.far))
    return int(min(add_work(p, p.work[line], ready, duration), p.far))


@compiled
def arrival(p: Layout, line: int, family: int, end: int) -> int:
    """Return the day on which a lot arrives that ends at a minute."""
    return int(p.arrival[line, p.finish[family], end])
