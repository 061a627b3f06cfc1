"""Ask what the newest list would be if something were otherwise, and what that costs in misses. Nothing is stored."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.list_changes import TOLERANCE_MIN, ListChange, PlacedRun, list_changes
from stockplan.planner.core.made import Made
from stockplan.planner.core.planning import ListedRun, choose_runs, listed
from stockplan.planner.core.whatif import Change, with_changes
from stockplan.planner.models import MakeList
from stockplan.planner.selectors.list_changes import stored_runs
from stockplan.planner.selectors.make_lists import MakeListNotFoundError, make_list_detail
from stockplan.planner.services.code_version import code_version
from stockplan.planner.services.forecasts import compute_forecast
from stockplan.planner.services.make_lists import facts_digest


@dataclass(frozen=True)
class WhatIf:
    """The newest list and the one with the changes, side by side.

    Parameters
    ----------
    misses_before, misses_after
        Expected misses with either list.
    runs
        The new list, by rank.
    differences
        The runs of the new list that are not in the old one's place and size, and those that are gone.
    """

    as_of: datetime
    misses_before: float
    misses_after: float
    runs: tuple[ListedRun, ...]
    made: Made
    differences: tuple[ListChange, ...]
    seconds: float

    @property
    def price(self) -> float:
        """Expected misses more with the changes than without."""
        return self.misses_after - self.misses_before


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
    after = choose_runs(with_changes(facts, changes))
    misses, before = _as_computed(newest, facts)
    return WhatIf(
        as_of=facts.as_of,
        misses_before=misses,
        misses_after=after.misses,
        made=after,
        runs=tuple(listed(after, after.ranked())),
        differences=list_changes(before, placed_runs(after), tolerance_min=TOLERANCE_MIN),
        seconds=time.perf_counter() - began,
    )


def placed_runs(made: Made) -> list[PlacedRun]:
    """Return the runs of a computed list as they stand."""
    plant = made.floor.plant
    return [
        PlacedRun(
            filament=run.lot.filament,
            line=run.line,
            start=plant.clock.instant(run.timing.start_min),
            spools={
                plant.facts.skus[s].code: n
                for s, n in zip(plant.skus_of[run.lot.filament], run.lot.spools, strict=True)
                if n
            },
        )
        for run in made.runs
    ]


def _facts_of(newest: MakeList, *, now: datetime) -> PlanFacts:
    """Return the facts that a list stands on, as the books say now that they were."""
    axis = [date.fromisoformat(day) for day in newest.forecast_run.parameters["days"]]
    days = sum(day <= newest.last_day for day in axis)
    return compute_forecast(as_of=newest.as_of, now=now, days=days).facts()


def _as_computed(newest: MakeList, facts: PlanFacts) -> tuple[float, list[PlacedRun]]:
    """Return misses and runs of the newest list."""
    if facts_digest(facts) != newest.data_digest or code_version() != newest.code_version:
        made = choose_runs(facts)
        return made.misses, placed_runs(made)
    return newest.misses_with, stored_runs(make_list_detail(newest.pk).runs)
