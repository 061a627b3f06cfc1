"""A plan to begin the search with: the lots of the bound, given to the lines one after the other.

The bound charges each lot the least setup, so its lots are of the right families, days and sizes, but somewhat many for
what setups take in a sequence; they are found with a dearer lot. They are then dispatched: the line that is free first
begins the lot that is worth most there, by apparent tardiness cost with setups,

    ln(w / (s + p)) - slack / (k1 mean p) - s / (k2 median s),

where w is the cost of a day's delay, p the winding, s the setup on this line with the wait before it, slack the time
left until the lot would be late. Which k1 and k2 are good depends on how tight the days are: several pairs are tried.

References
----------
Lee, Bhaskaran & Pinedo, A heuristic to minimize the total weighted tardiness with sequence-dependent setups, IIE
Transactions 29 (1997) 45-52. From memory; there the weight is divided by the winding alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stockplan.planner.core.search.bound import climbed
from stockplan.planner.core.search.problem import (
    NOTHING,
    Budget,
    Floats,
    Ints,
    SearchLine,
    SearchLot,
    SearchPlan,
    SearchProblem,
)
from stockplan.planner.core.search.relaxed import relaxed_of
from stockplan.planner.core.search.search import search
from stockplan.planner.core.search.visits import together
from stockplan.planner.core.timing import Spans

# What a lot is charged for its setup, in least setups into its family.
SETUP_CHARGE = 1.3
STEPS = 100
# Cost of a day's delay of a lot that costs nothing, so that it has a logarithm.
LEAST_WORTH = 1e-6
# What a minute of the way back weighs: it parts equal lots.
WAY_BACK = 1e-4
ALL = 2**31
# Pairs of k1 and k2.
LOOK_AHEADS = ((1, 0.07), (2, 0.14), (4, 0.28), (8, 0.55), (16, 0.55), (16, 0.9), (32, 0.55), (32, 0.9))


@dataclass(frozen=True)
class _Lot:
    """A lot of the bound.

    Parameters
    ----------
    worth : cost of a day's delay.
    after : whether it is not the first of its family.
    winding : (L,) minutes on each line.
    ready, due : (L,) when it may begin and when it is late, in working minutes of each line.
    """

    lot: SearchLot
    worth: float
    after: bool
    winding: Floats
    ready: Floats
    due: Floats


def best_start(problem: SearchProblem, plan: SearchPlan) -> SearchPlan:
    """Return the cheapest of a plan and of those dispatched; of equal ones the first."""
    above = _cost(problem, plan)
    return min((plan, *dispatched(problem, above=above)), key=lambda start: _cost(problem, start))


def _cost(problem: SearchProblem, plan: SearchPlan) -> float:
    return search(problem, plan, budget=Budget(moves=1, rounds=0)).cost


def dispatched(problem: SearchProblem, *, above: float) -> Iterator[SearchPlan]:
    """Return plans to begin with; `above` is the cost of some plan."""
    lots = list(_lots(problem, above))
    if lots:
        yield from (_plan(problem, lots, k1=k1, k2=k2) for k1, k2 in LOOK_AHEADS)


def _lots(problem: SearchProblem, above: float) -> Iterator[_Lot]:
    """Return the lots of the bound, those of a family by day, as far as there are items."""
    relaxed = relaxed_of(problem)
    dearer = replace(relaxed, lot_min=SETUP_CHARGE * relaxed.lot_min, groups=together(len(relaxed.class_of)))
    bound = climbed(dearer, above=above, steps=STEPS)
    use, left = problem.items_of.use, problem.items_of.stock.copy()
    most = relaxed.tables.rows - 1
    for family, is_lot in enumerate(bound.is_lot):
        skus = np.flatnonzero(problem.family_of == family)
        wanted, made = np.zeros(len(skus), dtype=np.int64), np.zeros(len(skus), dtype=np.int64)
        for at in np.flatnonzero(is_lot):
            wanted += bound.made[skus, at].astype(np.int64)
            units = within_stock(np.clip(wanted, made, most[skus]) - made, use[skus], left)
            left -= units @ use[skus]
            if units.any():
                yield _lot(problem, family, units, made, day=int(relaxed.days[at]))
                made += units


def within_stock(units: Ints, use: Floats, stock: Floats) -> Ints:
    """Return units of some SKUs, those of the first before the next, for as many as there are items.

    Parameters
    ----------
    units : (K,) wanted.
    use : (K, I) of each item in one unit.
    stock : (I,) that there is.
    """
    made, left = np.zeros_like(units), stock.copy()
    for k in range(len(units)):
        made[k] = min(units[k], _enough(use[k], left))
        left -= made[k] * use[k]
    return made


def _enough(use: Floats, left: Floats) -> int:
    """Return for how many units there are the items."""
    taken = use > 0
    return int((left[taken] / use[taken] + 1e-9).min()) if taken.any() else ALL


def _lot(problem: SearchProblem, family: int, units: Ints, made: Ints, *, day: int) -> _Lot:
    skus = np.flatnonzero(problem.family_of == family)
    delay = sum(
        float(problem.costs[s][a, day] - problem.costs[s][b, day])
        for s, a, b in zip(skus.tolist(), made, made + units, strict=True)
    )
    used = units > 0
    return _Lot(
        SearchLot(family, tuple(int(n) for n in units)),
        max(delay, LEAST_WORTH),
        bool(made.any()),
        np.array([line.start_up_min + float(units[used] @ line.unit_min[skus[used]]) for line in problem.lines]),
        np.array([_worked(line, int(problem.release_min[family])) for line in problem.lines]),
        np.array([_worked(line, _closes(line, int(problem.finish[family]), day)) for line in problem.lines]),
    )


def _closes(line: SearchLine, finish: int, day: int) -> int:
    """Return the last minute at which a lot ends that arrives by a day."""
    return int(np.searchsorted(line.arrival_day[finish], day, side="right")) - 1


def _worked(line: SearchLine, minute: int) -> float:
    """Return the working minutes of a line before a minute."""
    return float(minute if line.work is None else Spans(tuple(line.work)).minutes(0, minute))


def _plan(problem: SearchProblem, lots: Sequence[_Lot], *, k1: float, k2: float) -> SearchPlan:
    """Give each lot to the line that is free first and for which it has the highest index, until no setup can begin."""
    family, worth = np.array([each.lot.family for each in lots]), np.array([each.worth for each in lots])
    winding, ready, due = (
        np.stack(each, axis=1) for each in zip(*((lot.winding, lot.ready, lot.due) for lot in lots), strict=True)
    )
    after = np.array([at - 1 if each.after else NOTHING for at, each in enumerate(lots)])
    usual = max(float(np.mean(winding, where=np.isfinite(winding))), 1.0) if np.isfinite(winding).any() else 1.0
    waiting, sequences = np.ones(len(lots), dtype=bool), [list[SearchLot]() for _ in problem.lines]
    lines = [_Line(line) for line in problem.lines]
    while waiting.any() and any(not line.is_done for line in lines):
        at = min((line.free, i) for i, line in enumerate(lines) if not line.is_done)[1]
        line = lines[at]
        setup = np.maximum(ready[at] - line.free, 0.0) + line.setup[line.holds, family]
        slack = np.maximum(due[at] - winding[at] - setup - line.free, 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            index = np.log(worth / (setup + winding[at])) - slack / (k1 * usual) - setup / (k2 * line.usual_setup)
        index -= WAY_BACK * line.setup[family, line.holds] if line.holds < len(problem.release_min) else 0.0
        index[~waiting | ((after >= 0) & waiting[after]) | ~np.isfinite(winding[at])] = -np.inf
        best = int(index.argmax())
        if index[best] == -np.inf:
            line.is_done = True
            continue
        waiting[best] = False
        sequences[at].append(lots[best].lot)
        line.take(int(family[best]), float(setup[best] + winding[at, best]))
    return tuple(tuple(sequence) for sequence in sequences)


class _Line:
    """What a line holds and when it is free, in working minutes."""

    def __init__(self, line: SearchLine) -> None:
        families = line.setup_min.shape[1]
        self.setup = line.setup_min.astype(np.float64)
        others = self.setup[:families][~np.eye(families, dtype=bool)]
        self.usual_setup = max(float(np.median(others)) if others.size else 0.0, 1.0)
        self.holds = families if line.holds == NOTHING else line.holds
        self.free = _worked(line, line.free_min)
        self._end = np.inf if line.setups is None else _worked(line, line.setups[-1][1]) if line.setups else 0.0
        self.is_done = self.free >= self._end

    def take(self, family: int, minutes: float) -> None:
        """Wind a lot of a family, which takes some minutes with its setup."""
        self.free, self.holds = self.free + minutes, family
        self.is_done = self.free >= self._end
