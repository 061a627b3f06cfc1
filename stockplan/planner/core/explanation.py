"""Each run in sentences, and each filament left out. Every number is a field of the list and holds by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from forecasting.messages import Message, counted, message
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.materials import Missing
from stockplan.planner.core.outlook import Need
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.ranking import RankedRun, line_hours
from stockplan.planner.core.rivals import Rival
from stockplan.planner.core.selection import Decision


def run_reason(
    plant: Plant, ranked: RankedRun, *, need: Need, after_rank: int | None, limited_by: Sequence[str]
) -> Message:
    """Say why a run is on the list: what would run out, what the run avoids, and in which time.

    Parameters
    ----------
    need
        What the filament lacks with the runs ranked before this one.
    after_rank
        The rank of the last of them that is of the same filament.
    """
    why = message(
        "{lacks}; {effect} in {hours:.2f} line hours ({changeover}): {per_hour:.2f} an hour.",
        lacks=_need(plant, need) if after_rank is None else _need_after(plant, need, after_rank),
        effect=_effect(plant, ranked),
        hours=float(line_hours(ranked.run)),
        changeover=_changeover(ranked.run),
        per_hour=float(ranked.worth_per_hour),
    )
    if limited_by:
        why = message("{why} The store allows no more: {items}.", why=why, items=", ".join(limited_by))
    return message("Pinned by the planner. {why}", why=why) if ranked.run.lot.is_pinned else why


def blocked_reason(plant: Plant, *, need: Need, per_hour: float, missing: Sequence[Missing]) -> Message:
    """Say what a run lacks, by when to buy it, and what it would be worth."""
    return message(
        "Blocked: {lacks} missing. {need}; with them a run would avoid {per_hour:.2f} misses an hour.",
        lacks=tuple(
            message(
                "{quantity:.4g} {unit} of {item} (buy by {day})",
                quantity=float(m.quantity), unit=Message(m.unit, {}), item=m.item, day=m.buy_by,
            )
            for m in missing
        ),
        need=_need(plant, need),
        per_hour=float(per_hour),
    )  # fmt: skip


def enough_sentence(plant: Plant, out_on: int | None) -> Message:
    """Say until when stock on hand and on its way is expected to last."""
    days = plant.facts.days
    if out_on is None:
        return message("Enough beyond {day}.", day=days[-1])
    if out_on == 0:
        return message("At its level; what is due on {day} comes from supply that arrives later.", day=days[0])
    return message("Enough until {day}; at or above its level.", day=days[out_on - 1])


def waits_sentence(plant: Plant, spools: int, out_on: int | None) -> Message:
    """Say that what lacks to the levels is no run yet."""
    return counted(
        "{lasts}; {n} spool lacks to its level: too short a run as yet, it waits for more.",
        "{lasts}; {n} spools lack to its level: too short a run as yet, it waits for more.",
        n=int(spools),
        lasts=_lasts(plant, out_on),
    )


def not_worth_sentence(plant: Plant, per_hour: float, out_on: int | None) -> Message:
    """Say that the best lot avoids too little for its changeover."""
    return message(
        "{lasts}; its best lot avoids {per_hour:.2f} misses an hour, changeover included, and a run is listed from "
        "{least:.2f}.",
        lasts=_lasts(plant, out_on),
        per_hour=float(per_hour),
        least=float(plant.facts.parameters.least_worth_per_h),
    )


def _lasts(plant: Plant, out_on: int | None) -> Message:
    if out_on == 0:
        return message("Stock is expected to be short on {day}", day=plant.facts.days[0])
    if out_on is None:
        return message("Stock is expected to last beyond the days looked at")
    return message("Stock is expected to last until {day}", day=plant.facts.days[out_on - 1])


def not_worth_later_sentence(plant: Plant, decision: Decision, per_hour: float) -> Message:
    """Say that the line has time for it, when it is worth too little."""
    return message(
        "When line {line} is free for it on {day}, its best lot avoids {per_hour:.2f} misses an hour, changeover "
        "included, and a run is listed from {least:.2f}.",
        line=decision.line,
        day=plant.clock.instant(decision.minute).astimezone(plant.facts.calendar.zone).date(),
        per_hour=float(per_hour),
        least=float(plant.facts.parameters.least_worth_per_h),
    )


def no_room_sentence(plant: Plant, rival: Rival | None, more_misses: float | None, *, out_on: int | None) -> Message:
    """Say which run takes the time, and what the filament would avoid in its place.

    more_misses : of the whole list after the exchange; None where the listed run is worth as much or more.
    """
    why = _no_room(plant, rival, more_misses)
    if out_on is None:
        return why
    return message("{why} It is expected to run out on {day}.", why=why, day=plant.facts.days[out_on])


def _no_room(plant: Plant, rival: Rival | None, more_misses: float | None) -> Message:
    if rival is None:
        return message(
            "No line time left until {last}: it could be made in the place of none of the runs on its lines.",
            last=plant.facts.last_day,
        )
    run = rival.run.run
    day = plant.clock.instant(run.timing.start_min).astimezone(plant.facts.calendar.zone).date()
    known = {
        "last": plant.facts.last_day,
        "run": message("{filament} on line {line}, {day}", filament=run.lot.filament, line=run.line, day=day),
        "listed": float(rival.run.worth_per_hour),
        "own": float(rival.worth_per_hour),
    }
    if more_misses is None:
        return message(
            "No line time left until {last}: the run that could best make room, {run}, avoids {listed:.2f} misses an "
            "hour; in its place this would avoid {own:.2f}.",
            **known,
        )
    return message(
        "No line time left until {last}. In the place of {run} ({listed:.2f} misses an hour), it would avoid "
        "{own:.2f}, but what follows there would move: the list would miss {more:.2f} more.",
        **known,
        more=float(more_misses),
    )


def _need(plant: Plant, need: Need) -> Message:
    if need.late_spools:
        return counted(
            "{n} spool is late and not on the shelf",
            "{n} spools are late and not on the shelf",
            n=int(need.late_spools),
        )
    if need.out_on is None:
        last = plant.facts.days[-1]
        if not need.is_below:
            return message("The shelf is expected to last beyond {day} and is at its level", day=last)
        if need.ahead_spools:
            return counted(
                "The shelf is expected to last beyond {day}; {n} spool is wanted ahead of weeks that the lines "
                "cannot follow",
                "The shelf is expected to last beyond {day}; {n} spools are wanted ahead of weeks that the lines "
                "cannot follow",
                n=need.ahead_spools,
                day=last,
            )
        return message("The shelf is expected to last beyond {day} but is below its level", day=last)
    return message("The shelf is expected to run out on {day}", day=plant.facts.days[need.out_on])


def _need_after(plant: Plant, need: Need, rank: int) -> Message:
    if need.late_spools:
        return counted(
            "After rank {rank}, {n} spool is late and not on the shelf",
            "After rank {rank}, {n} spools are late and not on the shelf",
            n=int(need.late_spools),
            rank=rank,
        )
    if need.out_on is None:
        last = plant.facts.days[-1]
        if not need.is_below:
            return message(
                "After rank {rank}, the shelf is expected to last beyond {day} and is at its level", rank=rank, day=last
            )
        if need.ahead_spools:
            return counted(
                "After rank {rank}, {n} spool more is wanted ahead of weeks that the lines cannot follow",
                "After rank {rank}, {n} spools more are wanted ahead of weeks that the lines cannot follow",
                n=need.ahead_spools,
                rank=rank,
            )
        return message(
            "After rank {rank}, the shelf is expected to last beyond {day} but is below its level", rank=rank, day=last
        )
    day = plant.facts.days[need.out_on]
    return message("After rank {rank}, the shelf is expected to run out on {day}", rank=rank, day=day)


def _changeover(run: TimedRun) -> Message:
    if not run.timing.changeover_min:
        return message("no changeover")
    return message(
        "{minutes} min of it changeover from {filament}",
        minutes=int(run.timing.changeover_min),
        filament=run.timing.changeover_from,
    )


def _effect(plant: Plant, ranked: RankedRun) -> Message:
    return counted(
        "{n} spool on the shelf {when} avoids {misses:.2f} misses",
        "{n} spools on the shelf {when} avoid {misses:.2f} misses",
        n=int(sum(ranked.run.lot.spools)),
        when=_when(plant, ranked.run),
        misses=float(ranked.misses_avoided),
    )


def _when(plant: Plant, run: TimedRun) -> Message:
    """Say for which ship days the spools of a run are on the shelf."""
    by_day: Counter[int] = Counter()
    for arrival in (arrival for arrivals in run.arrivals for arrival in arrivals):
        by_day[arrival.day] += arrival.spools
    days = plant.facts.days
    words = {
        day: message("for {day}", day=days[day]) if day < len(days) else message("after the days looked at")
        for day in by_day
    }
    if len(by_day) == 1:
        return words[run.shelf_day]
    parts = tuple(message("{n} {when}", n=int(by_day[day]), when=words[day]) for day in sorted(by_day))
    return message("({parts})", parts=parts)
