"""Stock built ahead of weeks in which demand asks the lines for more than they work.

A list looks at its own days, and levels at a risk period. Neither sees the season or the announced promotion of the
month after, which by then the lines could not follow any more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import groupby, pairwise

import numpy as np

from forecasting.distribution import NegativeBinomial
from forecasting.messages import Message, message
from stockplan.planner.core.plant import Plant, working_spans
from stockplan.planner.core.shortage import Floats, Ints

HALVINGS = 30


@dataclass(frozen=True)
class LaterDemand:
    """Demand of the ship days after a list's last one.

    Parameters
    ----------
    mean : (S, D) of each day, not cumulated; 0 where a SKU is made to order or not on sale.
    spread : (S,) variance of a unit of mean.
    """

    days: tuple[date, ...]
    mean: Floats
    spread: Floats

    def of(self, skus: Ints) -> LaterDemand:
        """Return the demand of some SKUs, in this order."""
        return LaterDemand(self.days, self.mean[skus], self.spread[skus])


@dataclass(frozen=True)
class BuiltAhead:
    """What the coming weeks ask beforehand.

    Parameters
    ----------
    spools : (S,) spools of each SKU to hold above its level.
    first_day, last_day
        Of the weeks that the lines cannot follow; None: they can follow all.
    short_min
        Line minutes that are missing in those weeks.
    ahead_min
        How many of them must be in stock by the end of the list's days.
    """

    spools: Ints
    first_day: date | None = None
    last_day: date | None = None
    short_min: float = 0.0
    ahead_min: float = 0.0

    def sentence(self, list_ends: date) -> Message:
        """Say what is asked beforehand."""
        if self.first_day is None or self.last_day is None:
            return message("As far as the demand of the coming weeks can be seen, the lines can follow it.")
        short = {"first": self.first_day, "last": self.last_day, "short": self.short_min / 60}
        if not self.spools.any():
            return message(
                "From {first} to {last} demand asks for {short:.0f} line hours more than the lines work; the weeks "
                "between this list and then have them to spare.",
                **short,
            )
        return message(
            "From {first} to {last} demand asks for {short:.0f} line hours more than the lines work. {ahead:.0f} of "
            "them must be in stock by {list_ends}: {spools} spools above the levels, shared out as those weeks are "
            "likely to ask for them.",
            **short,
            ahead=self.ahead_min / 60,
            list_ends=list_ends,
            spools=int(self.spools.sum()),
        )


def built_ahead(plant: Plant, later: LaterDemand, *, covered_days: Floats, changeover_min: float) -> BuiltAhead:
    """Return what must be built ahead of weeks that the lines cannot follow.

    Parameters
    ----------
    plant
        Its list ends on the day before the later days; SKUs in the order of the later demand.
    covered_days : (S,) ship days from the list's first one whose demand the levels hold already.
    changeover_min
        Line minutes that changeovers take of an average ship day.

    Notes
    -----
    No more is asked for than the lines have to spare in all those weeks: a plant that is short throughout cannot build
    ahead.
    """
    none = np.zeros(len(plant.facts.skus), dtype=np.int64)
    weeks = _weeks(later.days)
    if not weeks or not plant.lines:
        return BuiltAhead(none)
    spool_min = _least_spool_min(plant)
    per_day = spool_min @ later.mean + changeover_min
    needed = np.array([per_day[list(days)].sum() for days in weeks])
    opened = _open_min(plant, [later.days[days[0]] for days in weeks], after=later.days[-1])
    short = np.flatnonzero(needed > opened)
    if not short.size:
        return BuiltAhead(none)
    ahead = minutes_ahead(needed, opened)
    wanted = float(min(ahead[0], np.maximum(opened - needed, 0.0).sum()))
    spools = none
    if wanted > 0:
        season = [day for week in short if (ahead[: week + 1] > 0).all() for day in weeks[week]]
        mean = later.mean[:, season].sum(axis=1)
        shared = shared_out(NegativeBinomial(mean, mean * later.spread), minutes=spool_min, wanted_min=wanted)
        inside = sum(day <= plant.facts.last_day for day in plant.facts.days)
        is_covered = inside + np.array(season)[None, :] < covered_days[:, None]
        held = np.floor((later.mean[:, season] * is_covered).sum(axis=1)).astype(np.int64)
        spools = np.maximum(shared - held, 0)
    return BuiltAhead(
        spools,
        first_day=later.days[weeks[short[0]][0]],
        last_day=later.days[weeks[short[-1]][-1]],
        short_min=float((needed - opened)[short].sum()),
        ahead_min=wanted,
    )


def minutes_ahead(needed: Floats, opened: Floats) -> Floats:
    """Return the minutes of work that must be done before each week begins, at the latest, (W,).

    Parameters
    ----------
    needed, opened : (W,) minutes that a week asks for, and has.

    References
    ----------
    The least stock under a limit on production, by going back from the last period: Modigliani, F. & Hohn, F.E.,
    Econometrica 23 (1955), from memory; the test compares it with a linear programme.
    """
    lack = needed - opened
    total = np.cumsum(lack)
    worst = np.maximum.accumulate(total[::-1])[::-1]
    return np.asarray(np.maximum(worst - (total - lack), 0.0))


def shared_out(demand: NegativeBinomial, *, minutes: Floats, wanted_min: float) -> Ints:
    """Return how many spools of each SKU make up so many minutes, (S,).

    The same share of every SKU's median demand in the weeks that the lines cannot follow: each is then short as late
    as the others, and a shelf left over, should those weeks disappoint, lasts as long for each. What is less likely
    than not to be sold is not built.

    Parameters
    ----------
    demand : (S,) of those weeks.
    minutes : (S,) of one spool; 0: no line makes it.
    wanted_min
        Minutes to make up: the least share that does, half spools rounded to even; all medians where none does.
    """
    most = np.where(minutes > 0, demand.ppf(0.5), 0.0)
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if np.round(middle * most) @ minutes >= wanted_min else (middle, high)
    return np.asarray(np.round(high * most), dtype=np.int64)


def _weeks(days: Sequence[date]) -> list[tuple[int, ...]]:
    """Return the places of the days of each ISO week."""
    return [tuple(places) for _, places in groupby(range(len(days)), key=lambda at: days[at].isocalendar()[:2])]


def _open_min(plant: Plant, begins: Sequence[date], *, after: date) -> Floats:
    """Return the minutes that the lines work in each week: the first from the end of the list, the last to its end."""
    end = after + timedelta(days=8 - after.isoweekday())
    edges = [plant.facts.last_day + timedelta(days=1), *(_monday(day) for day in begins[1:]), end]
    at = [plant.clock.minute(_midnight(plant, day)) for day in edges]
    spans = working_spans(plant.facts, end=_midnight(plant, end))
    return np.array(
        [sum(of_line.minutes(lo, hi) for of_line in spans.values()) for lo, hi in pairwise(at)],
        dtype=float,
    )


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _midnight(plant: Plant, day: date) -> datetime:
    return plant.facts.calendar.at(day, time(0))


def _least_spool_min(plant: Plant) -> Floats:
    """Return the winding minutes of a spool of each SKU on its fastest line, (S,); 0 where no line makes it."""
    minutes = np.zeros(len(plant.facts.skus))
    for filament, skus in plant.skus_of.items():
        each = [plant.spool_minutes(line, filament) for line in plant.lines_for(filament)]
        if each and skus:
            minutes[list(skus)] = np.min(each, axis=0)
    return minutes
