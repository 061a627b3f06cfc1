"""Each run in sentences, and each filament left out. Every number is a field of the list and holds by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.materials import Missing
from stockplan.planner.core.outlook import Need
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.ranking import RankedRun, line_hours
from stockplan.planner.core.rivals import Rival
from stockplan.planner.core.selection import Decision


def day_text(day: date) -> str:
    """Write a day so that nobody has to count, in the form of the pages: `Tue 2 Mar`."""
    return f"{day:%a} {day.day} {day:%b}"


def run_reason(
    plant: Plant, ranked: RankedRun, *, need: Need, after_rank: int | None, limited_by: Sequence[str]
) -> str:
    """Say why a run is on the list: what would run out, what the run avoids, and in which time.

    Parameters
    ----------
    need
        What the filament lacks with the runs ranked before this one.
    after_rank
        The rank of the last of them that is of the same filament.
    """
    run, timing = ranked.run, ranked.run.timing
    change = "no changeover"
    if timing.changeover_min:
        change = f"{timing.changeover_min} min of it changeover from {timing.changeover_from}"
    parts = ["Pinned by the planner."] if run.lot.is_pinned else []
    lacks = _need(plant, need)
    if after_rank is not None:
        lacks = f"After rank {after_rank}, {lacks[0].lower()}{lacks[1:]}"
    parts.append(
        f"{lacks}; {_effect(plant, ranked)} in {line_hours(run):.2f} line hours "
        f"({change}): {ranked.worth_per_hour:.2f} an hour."
    )
    if limited_by:
        parts.append(f"The store allows no more: {', '.join(limited_by)}.")
    return " ".join(parts)


def blocked_reason(plant: Plant, *, need: Need, per_hour: float, missing: Sequence[Missing]) -> str:
    """Say what a run lacks, by when to buy it, and what it would be worth."""
    lacks = ", ".join(f"{m.quantity:.4g} {m.unit} of {m.item} (buy by {day_text(m.buy_by)})" for m in missing)
    return f"Blocked: {lacks} missing. {_need(plant, need)}; with them a run would avoid {per_hour:.2f} misses an hour."


def enough_sentence(plant: Plant, out_on: int | None) -> str:
    """Say until when stock on hand and on its way is expected to last."""
    if out_on is None:
        return f"Enough beyond {day_text(plant.facts.days[-1])}."
    if out_on == 0:
        return f"At its level; what is due on {day_text(plant.facts.days[0])} comes from supply that arrives later."
    return f"Enough until {day_text(plant.facts.days[out_on - 1])}; at or above its level."


def waits_sentence(plant: Plant, spools: int, out_on: int | None) -> str:
    """Say that what lacks to the levels is no run yet."""
    noun = "spool lacks" if spools == 1 else "spools lack"
    return f"{_lasts(plant, out_on)}; {spools} {noun} to its level: too short a run as yet, it waits for more."


def not_worth_sentence(plant: Plant, per_hour: float, out_on: int | None) -> str:
    """Say that the best lot avoids too little for its changeover."""
    least = plant.facts.parameters.least_worth_per_h
    return (
        f"{_lasts(plant, out_on)}; its best lot avoids {per_hour:.2f} misses an hour, changeover included, and a run "
        f"is listed from {least:.2f}."
    )


def _lasts(plant: Plant, out_on: int | None) -> str:
    if out_on == 0:
        return f"Stock is expected to be short on {day_text(plant.facts.days[0])}"
    until = "beyond the days looked at" if out_on is None else f"until {day_text(plant.facts.days[out_on - 1])}"
    return f"Stock is expected to last {until}"


def not_worth_later_sentence(plant: Plant, decision: Decision, per_hour: float) -> str:
    """Say that the line has time for it, when it is worth too little."""
    day = plant.clock.instant(decision.minute).astimezone(plant.facts.calendar.zone).date()
    least = plant.facts.parameters.least_worth_per_h
    return (
        f"When line {decision.line} is free for it on {day_text(day)}, its best lot avoids {per_hour:.2f} misses an "
        f"hour, changeover included, and a run is listed from {least:.2f}."
    )


def no_room_sentence(plant: Plant, rival: Rival | None, more_misses: float | None, *, out_on: int | None) -> str:
    """Say which run takes the time, and what the filament would avoid in its place.

    more_misses : of the whole list after the exchange; None where the listed run is worth as much or more.
    """
    short = "" if out_on is None else f" It is expected to run out on {day_text(plant.facts.days[out_on])}."
    full = f"No line time left until {day_text(plant.facts.last_day)}"
    if rival is None:
        return f"{full}: it could be made in the place of none of the runs on its lines.{short}"
    run, listed = rival.run.run, rival.run.worth_per_hour
    starts = plant.clock.instant(run.timing.start_min).astimezone(plant.facts.calendar.zone).date()
    what = f"{run.lot.filament} on line {run.line}, {day_text(starts)}"
    if more_misses is None:
        return (
            f"{full}: the run that could best make room, {what}, avoids {listed:.2f} misses an hour; in its place this "
            f"would avoid {rival.worth_per_hour:.2f}.{short}"
        )
    return (
        f"{full}. In the place of {what} ({listed:.2f} misses an hour), it would avoid {rival.worth_per_hour:.2f}, but "
        f"what follows there would move: the list would miss {more_misses:.2f} more.{short}"
    )


def _need(plant: Plant, need: Need) -> str:
    if need.late_spools:
        return f"{need.late_spools} {'spool is' if need.late_spools == 1 else 'spools are'} late and not on the shelf"
    if need.out_on is None:
        return f"The shelf is expected to last beyond {day_text(plant.facts.days[-1])} but is below its level"
    return f"The shelf is expected to run out on {day_text(plant.facts.days[need.out_on])}"


def _effect(plant: Plant, ranked: RankedRun) -> str:
    spools = sum(ranked.run.lot.spools)
    verb = "avoids" if spools == 1 else "avoid"
    noun = "spool" if spools == 1 else "spools"
    return f"{spools} {noun} on the shelf {_when(plant, ranked.run)} {verb} {ranked.misses_avoided:.2f} misses"


def _when(plant: Plant, run: TimedRun) -> str:
    """Say for which ship days the spools of a run are on the shelf."""
    by_day: Counter[int] = Counter()
    for arrival in (arrival for arrivals in run.arrivals for arrival in arrivals):
        by_day[arrival.day] += arrival.spools
    days = plant.facts.days
    words = {day: f"for {day_text(days[day])}" if day < len(days) else "after the days looked at" for day in by_day}
    if len(by_day) == 1:
        return words[run.shelf_day]
    return f"({', '.join(f'{by_day[day]} {words[day]}' for day in sorted(by_day))})"
