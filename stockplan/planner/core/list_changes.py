"""What changed from one list to another, run by run."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import zip_longest
from zoneinfo import ZoneInfo

from forecasting.messages import Message, counted, message
from stockplan.planner.core.facts import PlacedRun

# A run stands where it stood if it begins at most so much earlier or later, and by this share of the time until then:
# one more spool shifts every run behind it a little, and what is days ahead will be planned again before it begins.
TOLERANCE = timedelta(hours=1)
TOLERANCE_SHARE = 1 / 8


class Kind(StrEnum):
    NEW = "new"
    DROPPED = "dropped"
    MOVED = "moved"
    RESIZED = "resized"


@dataclass(frozen=True)
class ListChange:
    """One run that differs.

    Moved: to another line, or begun earlier or later by more than the tolerance. Resized: other spools in its
    place.

    Parameters
    ----------
    run
        As it stands on the new list; a dropped one as it stood on the old.
    before
        As it stood on the old list; None where it is new.
    """

    kind: Kind
    run: PlacedRun
    before: PlacedRun | None


def list_changes(
    before: Sequence[PlacedRun], after: Sequence[PlacedRun], *, as_of: datetime | None = None
) -> tuple[ListChange, ...]:
    """Return the runs that differ, in the order in which they begin.

    The runs of a filament are paired in the order of their starts: those on the same line first.

    Parameters
    ----------
    as_of
        Instant of the new list: farther ahead a run may begin earlier or later by more. None: runs that are released,
        which stand by the hour.
    """
    olds, news = _by_filament(before), _by_filament(after)
    pairs = [
        pair for code in sorted(olds.keys() | news.keys()) for pair in _pairs(olds.get(code, []), news.get(code, []))
    ]
    found = [change for old, new in pairs if (change := _change(old, new, as_of)) is not None]
    return tuple(sorted(found, key=lambda change: change.run.start))


def change_sentence(change: ListChange, *, zone: ZoneInfo) -> Message:
    """Say what became of a run."""
    run, before = _run_words(change.run, zone), change.before
    match change.kind:
        case Kind.NEW:
            return message("New: {run}.", run=run)
        case Kind.DROPPED:
            return message("Dropped: {run}.", run=run)
    if before is None:
        raise ValueError(f"a run that is {change.kind} stood on the list before")
    if change.kind is Kind.RESIZED and before.total == change.run.total:
        return message("Resized: {run}, as many as before in other sizes.", run=run)
    if change.kind is Kind.RESIZED:
        return message("Resized: {run}, {spools} before.", run=run, spools=before.total)
    known = {"run": run, "line": before.line, "at": before.start.astimezone(zone)}
    if before.total == change.run.total:
        return message("Moved: {run}, before on {line}, {at}.", **known)
    return counted(
        "Moved: {run}, before on {line}, {at}, {n} spool.",
        "Moved: {run}, before on {line}, {at}, {n} spools.",
        n=before.total,
        **known,
    )


def _run_words(run: PlacedRun, zone: ZoneInfo) -> Message:
    return counted(
        "{filament} on {line}, {at}, {n} spool",
        "{filament} on {line}, {at}, {n} spools",
        n=run.total,
        filament=run.filament,
        line=run.line,
        at=run.start.astimezone(zone),
    )


def _by_filament(runs: Sequence[PlacedRun]) -> dict[str, list[PlacedRun]]:
    groups: defaultdict[str, list[PlacedRun]] = defaultdict(list)
    for run in sorted(runs, key=lambda r: (r.start, r.line)):
        groups[run.filament].append(run)
    return dict(groups)


def _pairs(olds: list[PlacedRun], news: list[PlacedRun]) -> list[tuple[PlacedRun | None, PlacedRun | None]]:
    found: list[tuple[PlacedRun | None, PlacedRun | None]] = []
    left = list(news)
    waiting = []
    for old in olds:
        same = next((new for new in left if new.line == old.line), None)
        if same is None:
            waiting.append(old)
        else:
            left.remove(same)
            found.append((old, same))
    return [*found, *zip_longest(waiting, left)]


def _change(old: PlacedRun | None, new: PlacedRun | None, as_of: datetime | None) -> ListChange | None:
    if new is None:
        return None if old is None else ListChange(Kind.DROPPED, old, old)
    if old is None:
        return ListChange(Kind.NEW, new, None)
    ahead = timedelta(0) if as_of is None else max(min(old.start, new.start) - as_of, timedelta(0))
    if old.line != new.line or abs(new.start - old.start) > TOLERANCE + TOLERANCE_SHARE * ahead:
        return ListChange(Kind.MOVED, new, old)
    return None if dict(old.spools) == dict(new.spools) else ListChange(Kind.RESIZED, new, old)
