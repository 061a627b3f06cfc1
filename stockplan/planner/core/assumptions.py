"""The whole list in sentences: what its misses are made of, what limits it, what it takes for granted."""

from __future__ import annotations

from statistics import median

from stockplan.planner.core.explanation import day_text
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.limits import Limit, Limits
from stockplan.planner.core.outlook import Outlook
from stockplan.planner.core.plant import Plant


def misses_sentence(plant: Plant, limits: Limits, *, misses: float, on_its_days: float) -> str:
    """Say what the list's misses are made of."""
    last, parameters = day_text(plant.facts.last_day), plant.facts.parameters
    return (
        f"Of the {misses:.1f} misses with the list, {limits.missed:.1f} are spools due up to {last} that will not ship "
        f"on their due day, {on_its_days - limits.missed:.1f} are further days that late spools wait until then "
        f"({parameters.late_day_weight:g} of a miss each), and {misses - on_its_days:.1f} belong to later days."
    )


def limits_sentence(plant: Plant, limits: Limits) -> str:
    """Say what keeps the misses of the list's own days from being avoided."""
    last = day_text(plant.facts.last_day)
    return (
        f"Of the {limits.missed:.1f} spools due up to {last} that will not ship on their due day, "
        f"{limits.lead_time:.1f} are due before a run begun now can be on the shelf, "
        f"{limits.not_made:.1f} are of filaments that lack materials, a line or the planner's leave, "
        f"{limits.finishing:.1f} wait for ovens or packing, and {limits.lines:.1f} for the lines, which work "
        f"{limits.busy_share:.0%} of their time until {last} and wait {limits.drying_share:.0%} of it for dry resin."
    )


def limit_words(plant: Plant, limits: Limits) -> str:
    """Say in a few words what limits the list most on its own days."""
    last = day_text(plant.facts.last_day)
    return {
        Limit.NONE: f"next to nothing due up to {last} is missed",
        Limit.LEAD_TIME: f"most of what is missed up to {last} is due before a run begun now can be on the shelf",
        Limit.NOT_MADE: f"most of what is missed up to {last} lacks materials, a line or the planner's leave",
        Limit.FINISHING: f"most of what is missed up to {last} waits for ovens or packing",
        Limit.DRYING: f"the lines wait {limits.drying_share:.0%} of their time until {last} for dry resin",
        Limit.LINES: f"most of what is missed up to {last} waits for the lines, which are {limits.busy_share:.0%} busy",
    }[limits.most]


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
        *_released(facts),
        *_not_planned(facts),
    )


def _shortage(outlook: Outlook) -> str:
    if outlook.hours_short_per_week > 0:
        return (
            f"The lines cannot keep the promise: {outlook.hours_short_per_week:.1f} line hours a week are missing, "
            "even with the longest intervals between runs."
        )
    return "Over the weeks the lines have the hours that the demand needs."


def _released(facts: PlanFacts) -> tuple[str, ...]:
    """Say that released runs stay."""
    waiting = sum(not run.is_started for run in facts.committed)
    if not waiting:
        return ()
    price = facts.parameters.moved_run_price
    return (
        f"The {waiting} released {'run stays' if waiting == 1 else 'runs stay'} as released: a what-if says whether "
        f"planning anew would avoid more than the plant's price of {price:g} misses for each one that moves.",
    )


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


def gap_sentence(misses: float, least: float) -> str:
    """Say how far the list may be from the best one."""
    share = (misses - least) / misses if misses > 0 else 0.0
    return (
        f"The list leaves {misses:.2f} misses; no list can leave fewer than {least:.2f}, "
        f"so at most {share:.1%} of them could be avoided by a better one."
    )
