"""The list in sentences. Every number in them is a field of the list and holds when recomputed by hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from statistics import median

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.materials import Missing
from stockplan.planner.core.outlook import Need, Outlook
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.ranking import RankedRun, line_hours
from stockplan.planner.core.rivals import Rival
from stockplan.planner.core.selection import Decision


def day_text(day: date) -> str:
    """Write a day so that nobody has to count, in the form of the pages: `Tue 2 Mar`."""
    return f"{day:%a} {day.day} {day:%b}"


def run_reason(plant: Plant, ranked: RankedRun, *, need: Need, limited_by: Sequence[str]) -> str:
    """Say why a run is on the list: what would run out, what the run avoids, and in which time."""
    run, timing = ranked.run, ranked.run.timing
    change = "no changeover"
    if timing.changeover_min:
        change = f"{timing.changeover_min} min of it changeover from {timing.changeover_from}"
    parts = ["Pinned by the planner."] if run.lot.is_pinned else []
    parts.append(
        f"{_need(plant, need)}; {_effect(plant, ranked)} in {line_hours(run):.2f} line hours "
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


def gap_sentence(misses: float, least: float) -> str:
    """Say how far the list may be from the best one."""
    share = (misses - least) / misses if misses > 0 else 0.0
    return (
        f"The list leaves {misses:.2f} misses; no list can leave fewer than {least:.2f}, "
        f"so at most {share:.1%} of them could be avoided by a better one."
    )


def assumptions(facts: PlanFacts, outlook: Outlook) -> tuple[str, ...]:
    """State what the list takes for granted."""
    p, load = facts.parameters, outlook.load
    days = sorted(outlook.run_days.values()) or [0.0]
    return (
        f"Winding takes {load.winding_min / max(load.available_min, 1e-9):.0%} and changeovers "
        f"{load.changeover_min / max(load.available_min, 1e-9):.0%} of the line time; "
        f"runs of a filament are {days[0]:.1f} to {days[-1]:.1f} ship days apart (median {median(days):.1f}).",
        _shortage(outlook),
        f"A late unit goes on counting {p.late_day_weight:g} of a miss for each further ship day that it waits.",
        "Demand still to arrive is taken as negative binomial, with mean and variance of the forecast's mixture of "
        "methods; levels are quantiles of the mixture itself.",
        f"Misses after {day_text(facts.last_day)} count less the further away they are, 1/e after "
        f"{p.look_ahead_days:g} ship days: later lists can still avoid them.",
        f"A lot goes on while its next spool is worth at least {p.stop_share:.0%} of the best use of the minute "
        f"elsewhere, up to the order-up-to level; {p.way_back_min:g} min are charged for the way back where the "
        "material changes, in the choice and not in the times.",
        f"A lot below {p.least_lot_share:.0%} of the demand between two runs or {p.min_run_min:g} min waits, unless a "
        "size is likely to run out; "
        f"in the choice, what a lot avoids counts less the later, 1/e {p.choice_days:g} ship days after it arrives.",
        *_not_planned(facts),
    )


def _shortage(outlook: Outlook) -> str:
    if outlook.hours_short_per_week > 0:
        return (
            f"The lines cannot keep the promise: {outlook.hours_short_per_week:.1f} line hours a week are missing, "
            "even with the longest intervals between runs."
        )
    return "The lines have the hours that the demand needs."


def _not_planned(facts: PlanFacts) -> tuple[str, ...]:
    found = []
    if not facts.hoppers:
        found.append("No drying hoppers are entered: resin is taken as dry when a run starts.")
    if not facts.ovens and any(m.spool_dry_h for m in facts.materials):
        found.append("No ovens are entered: oven places are taken as unlimited.")
    if not facts.calendar.crews:
        found.append("No crews are entered: a changeover can be made whenever its line works.")
    if not facts.store:
        found.append("No materials are kept in the books: they are taken as there.")
    return tuple(found)


def _need(plant: Plant, need: Need) -> str:
    if need.late_spools:
        return f"{need.late_spools} {'spool is' if need.late_spools == 1 else 'spools are'} late and not on the shelf"
    if need.out_on is None:
        return f"The shelf is expected to last beyond {day_text(plant.facts.days[-1])} but is below its level"
    return f"The shelf is expected to run out on {day_text(plant.facts.days[need.out_on])}"


def _effect(plant: Plant, ranked: RankedRun) -> str:
    spools, day = sum(ranked.run.lot.spools), ranked.run.shelf_day
    when = f"for {day_text(plant.facts.days[day])}" if day < len(plant.facts.days) else "after the days looked at"
    verb = "avoids" if spools == 1 else "avoid"
    noun = "spool" if spools == 1 else "spools"
    return f"{spools} {noun} on the shelf {when} {verb} {ranked.misses_avoided:.2f} misses"
