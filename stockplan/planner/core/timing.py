"""When a changeover and a run can be: shifts, crews, whole minutes since the list's own instant."""

from __future__ import annotations

import math
from bisect import bisect_right, insort
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from operator import itemgetter

Span = tuple[int, int]
_END = itemgetter(1)


@dataclass(frozen=True)
class MinuteClock:
    """Turns instants into whole minutes since `as_of` and back."""

    as_of: datetime

    def minute(self, instant: datetime) -> int:
        """Return the first whole minute at or after an instant."""
        return math.ceil((instant - self.as_of).total_seconds() / 60)

    def instant(self, minute: int) -> datetime:
        """Return the instant of a minute."""
        return self.as_of + timedelta(minutes=minute)


@dataclass(frozen=True)
class Spans:
    """Disjoint spans of minutes in order."""

    spans: tuple[Span, ...]

    def after(self, minute: int) -> Sequence[Span]:
        """Return the spans that end after a minute."""
        return self.spans[bisect_right(self.spans, minute, key=lambda span: span[1]) :]

    def next_open(self, minute: int) -> int | None:
        """Return the first open minute at or after `minute`; None past the last span."""
        left = self.after(minute)
        return max(left[0][0], minute) if left else None

    def add(self, minute: int, work: int) -> int | None:
        """Return when `work` minutes that begin at or after `minute` are done; None past the last span."""
        for lo, hi in self.after(minute):
            begin = max(lo, minute)
            if begin + work <= hi:
                return begin + work
            work -= hi - begin
        return None

    def minutes(self, start: int, end: int) -> int:
        """Return the open minutes within [start, end)."""
        return sum(max(min(hi, end) - max(lo, start), 0) for lo, hi in self.spans)

    def intersect(self, other: Spans) -> Spans:
        """Return what is open in both."""
        pieces = [(max(lo, a), min(hi, b)) for lo, hi in self.spans for a, b in other.spans if max(lo, a) < min(hi, b)]
        return Spans(tuple(sorted(pieces)))

    def without(self, other: Spans) -> Spans:
        """Return what is open here and not in the other."""
        if not other.spans or not self.spans:
            return self
        edges = [edge for span in merged(other.spans).spans for edge in span]
        closed = [min(self.spans[0][0], edges[0]), *edges, max(self.spans[-1][1], edges[-1])]
        return self.intersect(Spans(tuple(zip(closed[::2], closed[1::2], strict=True))))


def merged(spans: Sequence[Span]) -> Spans:
    """Return the union of spans that may overlap."""
    out: list[Span] = []
    for lo, hi in sorted(spans):
        if out and lo <= out[-1][1]:
            out[-1] = (out[-1][0], max(hi, out[-1][1]))
        else:
            out.append((lo, hi))
    return Spans(tuple(out))


@dataclass
class CrewBoard:
    """Who makes changeovers when. `windows` are (from, to, changeovers at once); None: no limit.

    `busy` is in the order of its ends.
    """

    windows: tuple[tuple[int, int, int], ...] | None
    busy: list[Span] = field(default_factory=list)

    def copy(self) -> CrewBoard:
        """Return a board that can be written on without changing this one."""
        return CrewBoard(self.windows, list(self.busy))

    def earliest(self, minute: int, work: int, open_spans: Spans) -> Span | None:
        """Return the first (start, end) of a changeover of `work` minutes at or after `minute`.

        It is made in one go by one crew within the line's time. One that is longer than every window is begun at
        the first open minute and goes on in the next windows.
        """
        if work == 0:
            return _pair(open_spans.next_open(minute), open_spans.next_open(minute))
        for lo, hi in open_spans.after(minute):
            start: int | None = max(lo, minute)
            while start is not None and start + work <= hi:
                clash = self._clash(start, start + work)
                if clash is None:
                    return start, start + work
                start = clash
        if all(hi - lo < work for lo, hi in open_spans.spans):
            return _pair(open_spans.next_open(minute), open_spans.add(minute, work))
        return None

    def take(self, span: Span) -> None:
        """Write a changeover on the board."""
        if span[0] < span[1]:
            insort(self.busy, span, key=_END)

    def _clash(self, start: int, end: int) -> int | None:
        """Return a later start to try if the crews are taken at some minute of [start, end), else None."""
        if self.windows is None:
            return None
        later = self.busy[bisect_right(self.busy, start, key=_END) :]
        overlapping = [span for span in later if span[0] < end]
        steps = {start} | {lo for lo, _ in overlapping if lo > start}
        steps |= {edge for lo, hi, _ in self.windows for edge in (lo, hi) if start < edge < end}
        for step in sorted(steps):
            taken = [span for span in overlapping if span[0] <= step < span[1]]
            if len(taken) >= self._size(step):
                frees = [hi for _, hi in taken] + [lo for lo, _, _ in self.windows if lo > step]
                return min(frees, default=None) if frees else end
        return None

    def _size(self, minute: int) -> int:
        return sum(size for lo, hi, size in self.windows or () if lo <= minute < hi)


def _pair(start: int | None, end: int | None) -> Span | None:
    return None if start is None or end is None else (start, end)
