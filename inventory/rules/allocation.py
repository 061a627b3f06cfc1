"""Who is promised what, and who gives back first. Pure: no database, no clock.

A line takes from *sources*: the shelf (key `None`) and the future supplies (key: id of the run
output). A promise once given stands: a line gives up what it holds only for an earlier ship day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TypeVar

SourceKey = int | None
SHELF: SourceKey = None
Key = TypeVar("Key")


@dataclass(frozen=True)
class Source:
    """Spools that a line can be promised.

    Parameters
    ----------
    key : int or None
        Id of the run output, `None` for the shelf.
    ready_day : date
        First ship day that they can serve; of the shelf: the ship day of now.
    free_spools : int
        Not promised to anyone, >= 0.
    """

    key: SourceKey
    ready_day: date
    free_spools: int

    def __post_init__(self) -> None:
        if self.free_spools < 0:
            raise ValueError(f"free_spools of source {self.key} must be >= 0, received {self.free_spools}")


@dataclass(frozen=True)
class LinePlan:
    """What a line takes from each source, and the day on which the last of it can ship (None: not all is promised)."""

    takes: Mapping[SourceKey, int]
    unpromised_spools: int
    promised_day: date | None


@dataclass(frozen=True, order=True)
class Turn:
    """Place of a line in the queue: first due first served, then first received, then the lower number."""

    due_day: date
    received_at: datetime
    line_id: int


def plan_line(
    *, need_spools: int, not_before: date, sources: Iterable[Source], held: Mapping[SourceKey, int]
) -> LinePlan:
    """Cover one line with the earliest spools.

    Sources are used by the day on which the line could ship from them, max(not_before, ready_day). At equal
    days what the line already holds comes first (so nothing moves without a gain), then the shelf, then the
    supply that is ready first.

    Parameters
    ----------
    need_spools : int
        Spools still to be covered, those in `held` included.
    not_before : date
        The line's due day, or the later day that its customer asked for.
    sources : iterable of Source
        What is free, without what this line holds.
    held : mapping
        Spools that the line holds of each source now.
    """
    takes: dict[SourceKey, int] = {}
    last_day: date | None = not_before
    wanted = need_spools
    for day, key, spools in _offers(not_before=not_before, sources=sources, held=held):
        taken = min(wanted, spools)
        if taken > 0:
            takes[key] = takes.get(key, 0) + taken
            wanted -= taken
            last_day = day
    return LinePlan(takes=takes, unpromised_spools=wanted, promised_day=last_day if wanted == 0 else None)


def _offers(
    *, not_before: date, sources: Iterable[Source], held: Mapping[SourceKey, int]
) -> list[tuple[date, SourceKey, int]]:
    ranked = []
    for source in sources:
        day = max(not_before, source.ready_day)
        key_rank = (source.key is not SHELF, source.ready_day, source.key or 0)
        ranked.append(((day, False, *key_rank), source.key, held.get(source.key, 0)))
        ranked.append(((day, True, *key_rank), source.key, source.free_spools))
    return [(rank[0], key, spools) for rank, key, spools in sorted(ranked, key=lambda offer: offer[0])]


def first_quote(promised_day: date | None, *, is_stocked: bool) -> date | None:
    """The day that a line is quoted by its first promise: made to order alone, and None while it has no promise."""
    return None if is_stocked else promised_day


def due_first(turns: Mapping[Key, Turn]) -> list[Key]:
    """Keys in the order in which lines are served."""
    return sorted(turns, key=lambda key: turns[key])


def give_back_first(turns: Mapping[Key, Turn]) -> list[Key]:
    """Keys in the order in which lines lose what is no longer there: latest due, then latest received."""
    return sorted(turns, key=lambda key: turns[key], reverse=True)


def take_in_order(*, order: Sequence[Key], holds: Mapping[Key, int], spools: int) -> dict[Key, int]:
    """Take `spools` from the holders in the given order; fewer if they hold fewer."""
    taken: dict[Key, int] = {}
    for key in order:
        share = min(holds[key], spools)
        if share > 0:
            taken[key] = share
            spools -= share
    return taken
