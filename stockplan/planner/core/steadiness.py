"""What of the list before stays on a new one, so that a small change of facts does not reshuffle it.

A search of fixed length ends a few per cent beside the best, by chance, and after any change by another chance: it
would give another list every time. So the lots of the list before are laid out on the facts of today, too, and changed
only by moves that avoid more misses than a price; a list that is chosen anew takes their place only if it pays that
price for each run that it changes. Within a day the price falls to next to nothing: by the next morning so much has
been ordered, made and shipped that keeping to a list costs more than it spares those who read it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from stockplan.planner.core.facts import PlacedRun, PlanFacts
from stockplan.planner.core.floor import Lot, TimedRun, lot_of_sizes, sizes_of
from stockplan.planner.core.list_changes import list_changes
from stockplan.planner.core.list_problem import ListProblem
from stockplan.planner.core.made import Made
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.ranking import all_misses, day_weights
from stockplan.planner.core.search.problem import Budget, SearchPlan
from stockplan.planner.core.search.search import search
from stockplan.planner.core.sequence import Sequences

# What facts have cut below this share of its spools is no longer the lot that was listed.
LEAST_LEFT = 0.5
# What should have begun longer ago, and has not been released, belongs to a list that nobody followed.
OVERDUE_MIN = 24 * 60
# A run beyond the days that are decided first is planned again before it begins: it changes for so many times as much.
LATER = 3
# A list asks less of a change the older it is, and nothing beyond the least price from this age on.
OLD = timedelta(days=1)
# Misses that a changed run must avoid where next to none are left to avoid: less is what stock and minutes are worth.
LEAST_PRICE = 0.001


@dataclass(frozen=True)
class Stretch:
    """Days of a list that are decided together.

    Parameters
    ----------
    plant, problem
        As they stand before these days.
    from_min, until_min
        Runs that start in [from_min, until_min) belong to the stretch; of the list before, from 0 on, those too that
        should have begun within the last day.
    laid_out
        Gives a list with the lots of a plan on these days.
    """

    plant: Plant
    problem: ListProblem
    from_min: int
    until_min: int
    laid_out: Callable[[SearchPlan], Made]

    @property
    def moves(self) -> int:
        """Moves of a search of these days."""
        return self.plant.facts.parameters.search_moves * len(self.plant.filaments)

    @property
    def listed(self) -> list[PlacedRun]:
        """Runs of the list before that stand on these days."""
        clock, listed = self.plant.clock, self.plant.facts.listed
        if listed is None:
            return []
        overdue_min = OVERDUE_MIN if self.from_min == 0 else 0
        return [run for run in listed.runs if self.from_min - overdue_min <= clock.minute(run.start) < self.until_min]

    def starting(self, made: Made) -> list[TimedRun]:
        """Return the runs of a list that start on these days."""
        return [run for run in made.runs if self.from_min <= run.timing.start_min < self.until_min]

    def price(self, made: Made) -> float:
        """Return the misses that must be avoided for each run that changes; those of some list scale it."""
        share = changed_run_share(self.plant.facts) * (LATER if self.from_min else 1)
        return max(share * self.misses(made), LEAST_PRICE)

    def descended(self, lots: SearchPlan, *, price: float) -> Made:
        """Return a list with lots on these days, changed only by moves that avoid more than a price each."""
        return self.laid_out(search(self.problem.problem, lots, budget=Budget(self.moves, least_gain=price)).plan)

    def cost(self, made: Made) -> float:
        """Return what the runs of a list on these days cost as the floor times them."""
        return self.problem.cost(self.starting(made), made.state.supply)

    def misses(self, made: Made) -> float:
        """Return the misses of a list on the days that the plant of the stretch looks at."""
        weights, own = np.zeros(made.state.supply.shape[1]), day_weights(self.plant)
        weights[: len(own)] = own
        return float(all_misses(made.before.tables, made.state.supply, weights=weights).sum())


@dataclass(frozen=True)
class Before:
    """The list before on the days of a stretch.

    Parameters
    ----------
    runs
        As they stood.
    lots
        Of them what is still wanted, as a plan of the search.
    price
        Misses that must be avoided for each of its runs that changes.
    """

    stretch: Stretch
    runs: Sequence[PlacedRun]
    lots: SearchPlan
    price: float

    def charged(self, made: Made) -> float:
        """Return what a list costs on these days, with the price of each run that it changes."""
        runs = placed_runs(self.stretch.plant, self.stretch.starting(made))
        changes = list_changes(self.runs, runs, as_of=self.stretch.plant.facts.as_of)
        return self.stretch.cost(made) + self.price * len(changes)


def changed_run_share(facts: PlanFacts) -> float:
    """Return the share of the misses of its days that a run of the list before changes for, by the age of that list."""
    age = timedelta(0) if facts.listed is None else facts.as_of - facts.listed.as_of
    return facts.parameters.changed_run_share * max(1 - age / OLD, 0.0)


def list_before(stretch: Stretch, made: Made) -> Before | None:
    """Return the list before on the days of a stretch; None where it has nothing there that is still wanted.

    Parameters
    ----------
    made
        Some list, whose misses scale the price of a change.
    """
    runs = stretch.listed
    lots = stretch.problem.plan(_sequences(stretch.plant, runs), least_left=LEAST_LEFT)
    return Before(stretch, runs, lots, stretch.price(made)) if any(lots) else None


def placed_runs(plant: Plant, runs: Sequence[TimedRun]) -> list[PlacedRun]:
    """Return runs as they stand on a list."""
    return [
        PlacedRun(run.lot.filament, run.line, plant.clock.instant(run.timing.start_min), sizes_of(plant, run.lot))
        for run in runs
    ]


def _sequences(plant: Plant, runs: Sequence[PlacedRun]) -> Sequences:
    """Return runs as lots on lines, in the order of their starts, those that a line can no longer make left out."""
    lots: defaultdict[str, list[Lot]] = defaultdict(list)
    for run in sorted(runs, key=lambda run: run.start):
        if run.line in plant.lines and run.filament in plant.lines[run.line].rates:
            lots[run.line].append(lot_of_sizes(plant, run.filament, run.spools))
    return lots
