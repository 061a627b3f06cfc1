"""The whole list in sentences: what its misses are made of, what limits it, what it takes for granted."""

from __future__ import annotations

from statistics import median

from forecasting.messages import Message, counted, message
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.improvement import SEARCH_DAYS, SLACK_MIN
from stockplan.planner.core.limits import Limit, Limits
from stockplan.planner.core.outlook import Outlook
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.steadiness import LATER, LEAST_PRICE, changed_run_share


def misses_sentence(plant: Plant, limits: Limits, *, misses: float, on_its_days: float) -> Message:
    """Say what the list's misses are made of."""
    return message(
        "Of the {misses:.1f} misses with the list, {missed:.1f} are spools due up to {last} that will not ship on "
        "their due day, {waiting:.1f} are further days that late spools wait until then ({weight:g} of a miss each), "
        "and {later:.1f} belong to later days.",
        misses=float(misses),
        missed=limits.missed,
        last=plant.facts.last_day,
        waiting=float(on_its_days - limits.missed),
        weight=float(plant.facts.parameters.late_day_weight),
        later=float(misses - on_its_days),
    )


def limits_sentence(plant: Plant, limits: Limits) -> Message:
    """Say what keeps the misses of the list's own days from being avoided."""
    return message(
        "Of the {missed:.1f} spools due up to {last} that will not ship on their due day, {lead_time:.1f} are due "
        "before a run begun now can be on the shelf, {not_made:.1f} are of filaments that lack materials, a line or "
        "the planner's leave, {finishing:.1f} wait for ovens or packing, and {lines:.1f} for the lines, which work "
        "{busy:.0%} of their time until {last} and wait {drying:.0%} of it for dry resin.",
        missed=limits.missed,
        last=plant.facts.last_day,
        lead_time=limits.lead_time,
        not_made=limits.not_made,
        finishing=limits.finishing,
        lines=limits.lines,
        busy=limits.busy_share,
        drying=limits.drying_share,
    )


def limit_words(plant: Plant, limits: Limits) -> Message:
    """Say in a few words what limits the list most on its own days."""
    last = plant.facts.last_day
    match limits.most:
        case Limit.NONE:
            return message("next to nothing due up to {last} is missed", last=last)
        case Limit.LEAD_TIME:
            return message(
                "most of what is missed up to {last} is due before a run begun now can be on the shelf", last=last
            )
        case Limit.NOT_MADE:
            return message(
                "most of what is missed up to {last} lacks materials, a line or the planner's leave", last=last
            )
        case Limit.FINISHING:
            return message("most of what is missed up to {last} waits for ovens or packing", last=last)
        case Limit.DRYING:
            return message(
                "the lines wait {share:.0%} of their time until {last} for dry resin",
                share=limits.drying_share,
                last=last,
            )
        case Limit.LINES:
            return message(
                "most of what is missed up to {last} waits for the lines, which are {share:.0%} busy",
                share=limits.busy_share,
                last=last,
            )


def assumptions(facts: PlanFacts, outlook: Outlook) -> tuple[Message, ...]:
    """State what the list takes for granted."""
    p, load = facts.parameters, outlook.load
    days, open_min = sorted(outlook.run_days.values()) or [0.0], max(load.available_min, 1e-9)
    return (
        message(
            "Winding takes {winding:.0%} and changeovers {changeover:.0%} of the line time; runs of a filament are "
            "{least:.1f} to {most:.1f} ship days apart (median {median:.1f}).",
            winding=float(load.winding_min / open_min),
            changeover=float(load.changeover_min / open_min),
            least=float(days[0]),
            most=float(days[-1]),
            median=float(median(days)),
        ),
        _shortage(outlook),
        *(() if facts.later_weeks is None else (facts.later_weeks,)),
        message(
            "A late unit goes on counting {weight:g} of a miss for each further ship day that it waits.",
            weight=float(p.late_day_weight),
        ),
        message(
            "Demand still to arrive is taken as negative binomial, with mean and variance of the forecast's mixture of "
            "methods; levels are quantiles of the mixture itself."
        ),
        message(
            "Misses after {last} count less the further away they are, 1/e after {days:g} ship days: later lists can "
            "still avoid them.",
            last=facts.last_day,
            days=float(p.look_ahead_days),
        ),
        message(
            "A lot goes on while its next spool is worth at least {share:.0%} of the best use of the minute elsewhere, "
            "up to the order-up-to level; {minutes:g} min are charged for the way back where the material changes, in "
            "the choice and not in the times.",
            share=float(p.stop_share),
            minutes=float(p.way_back_min),
        ),
        message(
            "A lot below {share:.0%} of the demand between two runs or {minutes:g} min waits, unless a size is likely "
            "to run out; in the choice, what a lot avoids counts less the later, 1/e {days:g} ship days after it "
            "arrives.",
            share=float(p.least_lot_share),
            minutes=float(p.min_run_min),
            days=float(p.choice_days),
        ),
        *_released(facts),
        *_searched(facts),
        *_not_planned(facts),
    )


def _shortage(outlook: Outlook) -> Message:
    if outlook.hours_short_per_week > 0:
        return message(
            "The lines cannot keep the promise: {hours:.1f} line hours a week are missing, even with the longest "
            "intervals between runs.",
            hours=float(outlook.hours_short_per_week),
        )
    return message("Over the weeks the lines have the hours that the demand needs.")


def _released(facts: PlanFacts) -> tuple[Message, ...]:
    """Say that released runs stay."""
    waiting = sum(not run.is_started for run in facts.committed)
    if not waiting:
        return ()
    return (
        counted(
            "The {n} released run stays as released: a what-if says whether planning anew would avoid more than the "
            "plant's price of {price:g} misses for each one that moves.",
            "The {n} released runs stay as released: a what-if says whether planning anew would avoid more than the "
            "plant's price of {price:g} misses for each one that moves.",
            n=waiting,
            price=float(facts.parameters.moved_run_price),
        ),
    )


def _searched(facts: PlanFacts) -> tuple[Message, ...]:
    """Say with what slack runs are placed, and what a run of the list before changes for."""
    if not facts.parameters.search_moves:
        return ()
    slack = message(
        "Runs are placed so that they are through {minutes} min before the ovens are loaded, or packing begins: a "
        "little delay then costs no day.",
        minutes=SLACK_MIN,
    )
    if not facts.listed:
        return (slack,)
    share = changed_run_share(facts)
    if not share:
        old = message(
            "The list before is old: a run of it that is still wanted changes where that avoids {least:g} of a miss.",
            least=LEAST_PRICE,
        )
        return slack, old
    kept = message(
        "Where the list before has runs that are still wanted, each of them changes only if that avoids at least "
        "{share:.2%} of the misses of its days, {later:.2%} where it begins after the first {days} ship days, and "
        "{least:g} of one. The older that list, the less: {most:.2%} at first, nothing after a day.",
        share=share,
        later=LATER * share,
        days=SEARCH_DAYS,
        least=LEAST_PRICE,
        most=float(facts.parameters.changed_run_share),
    )
    return slack, kept


def _not_planned(facts: PlanFacts) -> tuple[Message, ...]:
    found = []
    if not facts.hoppers:
        found.append(message("No drying hoppers are entered: resin is taken as dry when a run starts."))
    if not facts.ovens and any(m.spool_dry_h for m in facts.materials):
        found.append(message("No ovens are entered: oven places are taken as unlimited."))
    if not facts.calendar.crews:
        found.append(message("No crews are entered: a changeover can be made whenever its line works."))
    if not facts.store:
        found.append(message("No materials are kept in the books: they are taken as there."))
    return tuple(found)


def gap_sentence(misses: float, least: float) -> Message:
    """Say how far the list may be from the best one."""
    return message(
        "The list leaves {misses:.2f} misses; no list can leave fewer than {least:.2f}, so at most {share:.1%} of them "
        "could be avoided by a better one.",
        misses=float(misses),
        least=float(least),
        share=float((misses - least) / misses if misses > 0 else 0.0),
    )
