"""The coming days of each line as a picture: what runs when, changeovers hatched. The list beside it leads."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from stockplan.planner.selectors.list_pages import BarRun
from stockplan.planner.templatetags.planner_pages import day, moment, moment_after

LEFT, WIDTH, ROW, TOP = 70.0, 920.0, 34, 24
# A number needs so many units of the picture.
NARROWEST_NAMED = 22.0
# And a day so many.
NARROWEST_DAY = 80.0
# More days would leave no room to read them.
DRAWN = timedelta(days=5)


@dataclass(frozen=True)
class Bar:
    """One run: from `x` its changeover of `change` units, then the run itself."""

    x: float
    change: float
    width: float
    number: int | None
    colour_hex: str
    words: str

    @property
    def run_x(self) -> float:
        """Where the run itself begins."""
        return self.x + self.change

    @property
    def middle(self) -> float | None:
        """Where the number stands, None where it has none or there is no room for it."""
        return self.run_x + self.width / 2 if self.number and self.width >= NARROWEST_NAMED else None

    @property
    def number_x(self) -> float:
        """Left edge of the paper under the number."""
        return self.run_x + self.width / 2 - 10


@dataclass(frozen=True)
class LineBars:
    """One line, `y` units from the top."""

    code: str
    y: int
    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class TimeBars:
    """The picture: its words, its lines, and (units from the left, day) of each midnight; "" where no room is left."""

    words: str
    height: int
    lines: tuple[LineBars, ...]
    midnights: tuple[tuple[float, str], ...]


def time_bars(runs: Sequence[BarRun], *, by_place: bool = False) -> TimeBars | None:
    """Return the picture of the runs that begin within five days of the first, by line; None of none.

    Parameters
    ----------
    by_place
        Their numbers are places on the line, else ranks.
    """
    if not runs:
        return None
    first = min(run.start for run in runs)
    runs = [run for run in runs if run.start < first + DRAWN]
    last = max(run.end for run in runs)
    scale = WIDTH / max((last - first).total_seconds(), 1.0)

    def at(instant: datetime) -> float:
        return round(LEFT + scale * (instant - first).total_seconds(), 1)

    codes = sorted({run.line_code for run in runs})
    lines = tuple(
        LineBars(code, TOP + ROW * row, tuple(_bar(run, at, scale) for run in runs if run.line_code == code))
        for row, code in enumerate(codes)
    )
    words = (
        _("What each line does from %(first)s to %(last)s; the number is the place, changeovers are hatched.")
        if by_place
        else _("What each line does from %(first)s to %(last)s; the number is the rank, changeovers are hatched.")
    ) % {"first": moment(first), "last": moment(last)}
    every = max(1, math.ceil(NARROWEST_DAY / (scale * 86_400)))
    midnights = tuple(
        (x, day(timezone.localdate(one)) if x <= LEFT + WIDTH - NARROWEST_DAY else "")
        for one in _midnights(first, last)[::every]
        for x in [at(one)]
    )
    return TimeBars(words, TOP + ROW * len(codes), lines, midnights)


def _bar(run: BarRun, at: Callable[[datetime], float], scale: float) -> Bar:
    change = round(scale * 60 * run.changeover_min, 1)
    width = round(at(run.end) - at(run.start) - change, 1)
    name = f"{run.number}. {run.filament_code}" if run.number else run.filament_code
    words = f"{name}, {moment(run.start)} \N{EN DASH} {moment_after(run.end, run.start)}"
    return Bar(at(run.start), change, max(width, 0.0), run.number, run.colour_hex, words)


def _midnights(first: datetime, last: datetime) -> list[datetime]:
    """Return the local midnights between two instants."""
    days = (timezone.localdate(last) - timezone.localdate(first)).days
    dates = (timezone.localdate(first) + timedelta(days=number) for number in range(1, days + 1))
    return [timezone.make_aware(datetime.combine(date, time())) for date in dates]
