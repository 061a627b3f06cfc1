"""The order of the runs that wait for a line, as the planner moves them. `timed_order` says what it comes to.

A run that is not released stands behind the released runs of its line, because every new list begins behind them.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import takewhile

from inventory.rules.texts import listed, text
from stockplan.planner.errors import PlanningError

Orders = Mapping[str, tuple[str, ...]]


class RunOrderError(PlanningError):
    """The runs cannot be put into this order."""

    code = "run_order"


@dataclass(frozen=True)
class Waiting:
    """A run that has not started. `key` names it: its code where it is released.

    Parameters
    ----------
    lines
        Lines that can make it.
    pinned_to
        The line that the planner has fixed for its filament; None: any.
    """

    key: str
    filament: str
    line: str
    sizes: Mapping[str, int]
    is_released: bool
    lines: tuple[str, ...]
    pinned_to: str | None = None

    @property
    def name(self) -> str:
        """The run in a sentence."""
        return f"{self.key} ({self.filament})" if self.is_released else self.filament


@dataclass(frozen=True)
class Move:
    """A run gets a place among those that wait for a line, 1 for the next one; the others make room in their order."""

    key: str
    line: str
    place: int


def order_of(waiting: Sequence[Waiting]) -> dict[str, tuple[str, ...]]:
    """Return the keys by line, in the order in which the runs are given."""
    return {line: tuple(run.key for run in waiting if run.line == line) for line in sorted({r.line for r in waiting})}


def moved(waiting: Sequence[Waiting], moves: Sequence[Move], *, started: Collection[str]) -> dict[str, tuple[str, ...]]:
    """Return the keys by line with moves made all at once.

    Parameters
    ----------
    waiting
        Runs in their present order on each line.
    started
        Runs under way, which no move may name.

    Raises
    ------
    RunOrderError
        If a run is unknown, started or named twice, its line cannot make it, a place is not among those of its line or
        asked for twice, or a run that is not released would stand before one that is. Its pointer says which move.
    """
    runs = {run.key: run for run in waiting}
    for at, move in enumerate(moves):
        _check_run(runs, moves[:at], move, started=started, pointer=f"/moves/{at}")
    line_of = {run.key: run.line for run in waiting} | {move.key: move.line for move in moves}
    order = {}
    for line in sorted({*line_of.values(), *(run.line for run in waiting)}):
        keys = [run.key for run in waiting if line_of[run.key] == line]
        order[line] = _placed(keys, moves, line)
        _check_released_first(runs, order[line], moves, line)
    return order


def _check_run(
    runs: Mapping[str, Waiting], before: Sequence[Move], move: Move, *, started: Collection[str], pointer: str
) -> None:
    run = runs.get(move.key)
    if move.key in started:
        raise RunOrderError("Run {move} has started: it stays where it is.", move=move.key, pointer=f"{pointer}/place")
    if run is None:
        raise RunOrderError("No run {move} waits for a line.", move=move.key, pointer=pointer)
    if any(other.key == move.key for other in before):
        raise RunOrderError("{run} is moved twice.", run=run.name, pointer=pointer)
    if move.line not in run.lines:
        able = listed(run.lines) if run.lines else text("no line")
        raise RunOrderError(
            "{line} cannot make {filament}; {able} can.",
            line=move.line,
            filament=run.filament,
            able=able,
            pointer=f"{pointer}/line",
        )
    if run.pinned_to is not None and move.line != run.pinned_to:
        raise RunOrderError(
            "{filament} is pinned to {pinned_to}; withdraw that instruction first.",
            filament=run.filament,
            pinned_to=run.pinned_to,
            pointer=f"{pointer}/line",
        )


def _placed(keys: Sequence[str], moves: Sequence[Move], line: str) -> tuple[str, ...]:
    """Return the runs of a line, those that are moved to a place in it and the others around them."""
    taken: dict[int, str] = {}
    for at, move in enumerate(moves):
        if move.line != line:
            continue
        if not 1 <= move.place <= len(keys):
            what = text("place {n} alone", "places 1 to {n}", n=len(keys))
            raise RunOrderError(
                "{line} then has {what}, got {place}.",
                line=line,
                what=what,
                place=move.place,
                pointer=f"/moves/{at}/place",
            )
        if move.place in taken:
            raise RunOrderError(
                "Two runs are given place {place} on {line}; each place holds one.",
                place=move.place,
                line=line,
                pointer=f"/moves/{at}/place",
            )
        taken[move.place] = move.key
    others = iter([key for key in keys if key not in taken.values()])
    return tuple(taken[place] if place in taken else next(others) for place in range(1, len(keys) + 1))


def _check_released_first(runs: Mapping[str, Waiting], keys: Sequence[str], moves: Sequence[Move], line: str) -> None:
    flags = [runs[key].is_released for key in keys]
    if flags == sorted(flags, reverse=True):
        return
    # The run that was moved across the border: it comes too soon, or leaves its place to one that does.
    first = flags.index(False)
    wrong = {*keys[first : len(flags) - flags[::-1].index(True)]}
    at = next(at for at, move in enumerate(moves) if move.line == line and move.key in wrong)
    raise RunOrderError(
        "{filament} is not released: it stands behind the released runs of {line}. Release it first.",
        filament=runs[keys[first]].filament,
        line=line,
        pointer=f"/moves/{at}/place",
    )


def loosened(waiting: Sequence[Waiting], order: Orders) -> set[str]:
    """Return the released runs that must be timed anew: those of each line from the first place that changes."""
    released = {run.key for run in waiting if run.is_released}
    present, loose = order_of(waiting), set()
    for line in present.keys() | order.keys():
        was, now = present.get(line, ()), order.get(line, ())
        same = len(list(takewhile(lambda pair: pair[0] == pair[1], zip(was, now, strict=False))))
        loose |= {*was[same:], *now[same:]} & released
    return loose
