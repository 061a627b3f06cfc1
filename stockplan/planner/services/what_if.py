"""Ask what the newest list would be if something were otherwise, and what that costs in misses. No list is stored."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from forecasting.messages import Message, message
from stockplan.planner.core.facts import ListBefore, PlacedRun, PlanFacts
from stockplan.planner.core.floor import sizes_of
from stockplan.planner.core.list_changes import Kind, change_sentence, list_changes
from stockplan.planner.core.made import Made
from stockplan.planner.core.misses_price import MissesPrice
from stockplan.planner.core.planning import ListedRun, choose_runs, listed
from stockplan.planner.core.steadiness import placed_runs
from stockplan.planner.core.whatif import Change, ReplanReleased, RushOrder, with_changes
from stockplan.planner.core.whatif_answers import released_verdict, shipped_on
from stockplan.planner.core.whatif_lists import with_change, without_change
from stockplan.planner.models import MakeList
from stockplan.planner.selectors.list_changes import FREE, stored_runs
from stockplan.planner.selectors.make_lists import MakeListNotFoundError
from stockplan.planner.services.code_version import code_version
from stockplan.planner.services.forecasts import compute_forecast
from stockplan.planner.services.make_lists import facts_digest

# What is less is written as 0.0.
LEAST_TOLD = 0.05


@dataclass(frozen=True)
class TriedSize:
    """Spools of one size on a run."""

    sku: str
    spools: int


@dataclass(frozen=True)
class TriedRun:
    """A run of the list with the changes."""

    rank: int
    filament: str
    line: str
    start: datetime
    end: datetime
    sizes: tuple[TriedSize, ...]
    misses_avoided: float
    worth_per_hour: float
    reason: Message


@dataclass(frozen=True)
class Difference:
    """A run that the newest list has otherwise, or not, or alone."""

    kind: Kind
    filament: str
    sentence: Message


@dataclass(frozen=True)
class WhatIf(MissesPrice):
    """The newest list and the one with the changes, side by side.

    Parameters
    ----------
    misses_newest
        Expected misses with the newest list.
    misses_before, misses_after
        Without and with the changes: before is the newest list, or a better one that the search came upon.
    runs
        The list with the changes, by rank.
    rush_orders
        When each rush order among the changes ships.
    differences
        Its runs that are not in the other one's place and size, and those that are gone, by their start.
    verdict
        Whether it pays to plan released runs anew, where that was asked and some are; else None.
    """

    as_of: datetime
    misses_newest: float
    misses_before: float
    misses_after: float
    runs: tuple[TriedRun, ...]
    rush_orders: tuple[Message, ...]
    differences: tuple[Difference, ...]
    verdict: Message | None
    compute_seconds: float

    @property
    def remark(self) -> Message | None:
        """What to make of a better list on the way, and of a price below nought.

        A line less or an order more cannot by itself lower the misses.
        """
        if self.misses_newest - self.misses_before >= LEAST_TOLD:
            return message(
                "The search came upon a better list on the way: without the change its lots would miss {before:.1f}, "
                "where the newest list misses {newest:.1f}. The price is the difference to those {before:.1f}; a newly "
                "computed list may be better too.",
                before=self.misses_before,
                newest=self.misses_newest,
            )
        if self.gain < LEAST_TOLD or self.verdict is not None:
            return None
        return message(
            "That is fewer with the change than without, which it cannot bring about by itself unless it takes the "
            "place of an instruction in force: the search for a list came upon a better one on the way. The change "
            "costs too little to be told from that, and a newly computed list may be better too."
        )


def what_if(changes: Sequence[Change], *, now: datetime) -> WhatIf:
    """Compute the newest list anew with changes.

    Both lists stand on the facts as of the newest list's instant. The stored one is taken as it is where the same
    facts and code gave it; else it is computed again, so that nothing but the changes is between the two.

    Raises
    ------
    MakeListNotFoundError
        If there is no list yet.
    WhatIfError
        If a change names what is not there.
    """
    began = time.perf_counter()
    newest = MakeList.objects.select_related("forecast_run").order_by("-as_of", "-created_at").first()
    if newest is None:
        raise MakeListNotFoundError("There is no make list yet.")
    facts = _facts_of(newest, now=now)
    misses, before, free = _as_computed(newest, facts)
    released = _released(facts) if ReplanReleased() in changes else []
    changed = replace(with_changes(facts, changes), listed=ListBefore(facts.as_of, (*free, *released)))
    after = with_change(facts, before, choose_runs(changed))
    other = without_change(facts, after)
    best = min(misses, other.misses) if other else misses
    runs = placed_runs(after.floor.plant, after.runs)
    return WhatIf(
        as_of=facts.as_of,
        misses_newest=misses,
        misses_before=best,
        misses_after=after.misses,
        runs=tuple(_tried(after, row) for row in listed(after, after.ranked())),
        rush_orders=tuple(
            shipped_on(change, facts=after.floor.plant.facts, supply=after.state.supply)
            for change in changes
            if isinstance(change, RushOrder)
        ),
        differences=tuple(
            Difference(change.kind, change.run.filament, change_sentence(change, zone=facts.calendar.zone))
            for change in list_changes([*before, *released], runs, as_of=facts.as_of)
        ),
        verdict=_verdict(facts, released, runs, avoided=best - after.misses) if released else None,
        compute_seconds=time.perf_counter() - began,
    )


def _released(facts: PlanFacts) -> list[PlacedRun]:
    """Return the runs that are released and not started."""
    return [
        PlacedRun(run.filament, run.line, run.planned_start, run.spools)
        for run in facts.committed
        if not run.is_started
    ]


def _verdict(facts: PlanFacts, released: list[PlacedRun], runs: list[PlacedRun], *, avoided: float) -> Message:
    moved = sum(change.kind != Kind.NEW for change in list_changes(released, runs))
    price = facts.parameters.moved_run_price
    return released_verdict(released=len(released), moved=moved, avoided=avoided, price=price)


def _tried(made: Made, row: ListedRun) -> TriedRun:
    ranked, run, clock = row.ranked, row.ranked.run, made.floor.plant.clock
    return TriedRun(
        rank=ranked.rank,
        filament=run.lot.filament,
        line=run.line,
        start=clock.instant(run.timing.start_min),
        end=clock.instant(run.timing.end_min),
        sizes=tuple(TriedSize(sku, n) for sku, n in sizes_of(made.floor.plant, run.lot).items()),
        misses_avoided=ranked.misses_avoided,
        worth_per_hour=ranked.worth_per_hour,
        reason=row.reason,
    )


def _facts_of(newest: MakeList, *, now: datetime) -> PlanFacts:
    """Return the facts that a list stands on, as the books say now that they were."""
    axis = [date.fromisoformat(day) for day in newest.forecast_run.parameters["days"]]
    days = sum(day <= newest.last_day for day in axis)
    return compute_forecast(as_of=newest.as_of, now=now, days=days).facts()


def _as_computed(newest: MakeList, facts: PlanFacts) -> tuple[float, list[PlacedRun], list[PlacedRun]]:
    """Return misses and runs of the newest list, and those of them that are not pinned."""
    if facts_digest(facts) != newest.data_digest or code_version() != newest.code_version:
        made = choose_runs(facts)
        plant, free = made.floor.plant, [run for run in made.runs if not run.lot.is_pinned]
        return made.misses, placed_runs(plant, made.runs), placed_runs(plant, free)
    return newest.misses_with, stored_runs(newest.pk), stored_runs(newest.pk, only=FREE)
