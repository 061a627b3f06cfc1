"""A lower bound on what any plan of a search problem costs.

Line minutes are relaxed: for each day d on which lots can arrive, all lots that arrive by d take no more minutes than
all lines have until their last minute that counts for d. Each is priced by a multiplier; a minute of a lot that
arrives on day d then costs

    pi(d) = sum of the multipliers of the days from d on,

which does not rise with d, and the families no longer touch each other. A family is a shortest path over the days
on which it has a lot: between two such days s < t each of its SKUs has some supply x, which costs

    min over x of  cost of the days s..t-1 at x  +  x minutes(x) (pi(s) - pi(t)).

Supply is not asked to grow from one lot to the next, each lot pays the least setup from any other family, on the line
that is fastest for it, and one that could follow a lot of its own family pays none. All of this makes a plan cheaper,
so the value is a bound, convex costs or not. Multipliers are improved by subgradient steps.

References
----------
Fisher, The Lagrangian relaxation method for solving integer programming problems, Management Science 27 (1981) 1-18
(from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.search.layout import Layout, layout_of
from stockplan.planner.core.search.problem import Floats, Ints, SearchLine, SearchProblem
from stockplan.planner.core.timing import Spans

STEPS = 150
# A step is halved after so many that did not raise the bound.
PATIENCE = 8


@dataclass(frozen=True)
class _Relaxed:
    """What the bound is computed from: D days of arrival, A pairs of them with the end, S SKUs, F families."""

    days: Ints  # (D,)
    minutes: Floats  # (D,) of all lines
    pairs: Ints  # (A, 2) places in `days`, the end is D
    before: Floats  # (F, D + 1) cost of the days before the first lot
    cost: Floats  # (S, A, X) cost between two lots with X - 1 units at most, infinite beyond
    unit_min: Floats  # (S,)
    family_of: Ints
    lot_min: Floats  # (F,) least minutes of a lot beside its units
    lot_cost: Floats  # (F,)
    start_min: Floats  # (F,) of one that follows its own family
    is_held: NDArray[np.bool_]  # (F,) by some line at the start
    fixed: float


def lower_bound(problem: SearchProblem, *, above: float, steps: int = STEPS) -> float:
    """Return a cost that no plan goes below.

    Parameters
    ----------
    above
        Cost of some plan; sets the length of the steps.
    steps
        Work, in subgradient steps.
    """
    relaxed = _relaxed(problem, layout_of(problem))
    price = np.zeros(len(relaxed.days))
    best, share, waited = -np.inf, 1.0, 0
    for _ in range(steps):
        value, used = _value(relaxed, price)
        waited = 0 if value > best + 1e-9 else waited + 1
        best = max(best, value)
        if waited == PATIENCE:
            share, waited = share / 2, 0
        rise = used / relaxed.minutes - 1
        length = float(rise @ rise)
        if length < 1e-12 or above - value < 1e-9:
            break
        price = np.maximum(price + share * (above - value) / length * rise / relaxed.minutes, 0.0)
    return best


def _value(r: _Relaxed, price: Floats) -> tuple[float, Floats]:
    """Return the relaxed cost at prices of the days, and the minutes used by each day."""
    count, families = len(r.days), len(r.lot_min)
    pi = np.append(np.cumsum(price[::-1])[::-1], 0.0)
    step = pi[r.pairs[:, 0]] - pi[r.pairs[:, 1]]
    units = np.arange(r.cost.shape[2])
    priced = r.cost + (r.unit_min[:, None] * step[None, :])[:, :, None] * units
    best = priced.argmin(axis=2)
    least = np.take_along_axis(priced, best[:, :, None], axis=2)[:, :, 0]
    arc = np.zeros((families, len(r.pairs)))
    np.add.at(arc, r.family_of, least)
    wound = np.zeros_like(arc)
    np.add.at(wound, r.family_of, best * r.unit_min[:, None])
    at = np.full((count + 1, count + 1), -1)
    at[r.pairs[:, 0], r.pairs[:, 1]] = np.arange(len(r.pairs))
    path, previous, pays = _shortest(r, pi, arc, at)
    used = _used(r, at, wound, previous, pays)
    return float(path[:, count].sum() - price @ r.minutes + r.fixed), used


def _shortest(r: _Relaxed, pi: Floats, arc: Floats, at: Ints) -> tuple[Floats, Ints, NDArray[np.bool_]]:
    """Return cost, previous lot (-1: none) and whether a setup is paid, of the best path to a lot on each day."""
    count, families = len(r.days), len(r.lot_min)
    path, previous = r.before.copy(), np.full((families, count + 1), -1)
    pays = np.zeros((families, count + 1), dtype=bool)
    for t in range(count + 1):
        full = r.lot_cost + r.lot_min * pi[t] if t < count else np.zeros(families)
        follows = np.minimum(r.start_min * pi[t], full) if t < count else full
        if t < count:
            path[:, t] += np.where(r.is_held, follows, full)
            pays[:, t] = ~r.is_held
        for s in range(t):
            through = path[:, s] + arc[:, at[s, t]] + follows
            better = through < path[:, t]
            path[better, t], previous[better, t], pays[better, t] = through[better], s, False
    return path, previous, pays


def _used(r: _Relaxed, at: Ints, wound: Floats, previous: Ints, pays: NDArray[np.bool_]) -> Floats:
    """Return the minutes of all lots that arrive by each day, along the best paths."""
    count, families = len(r.days), len(r.lot_min)
    used = np.zeros(count)
    everyone = np.arange(families)
    now = np.full(families, count)
    for _ in range(count + 1):
        before = previous[everyone, now]
        for s in np.unique(before[before >= 0]):
            rows = np.flatnonzero(before == s)
            for t in np.unique(now[rows]):
                those = rows[now[rows] == t]
                used[s:t] += wound[those, at[s, t]].sum()
            used[s:] += np.where(pays[rows, s], r.lot_min[rows], r.start_min[rows]).sum()
        now = np.where(before >= 0, before, now)
        if np.all(before < 0):
            break
    return used


def _relaxed(problem: SearchProblem, p: Layout) -> _Relaxed:
    """Lay out the relaxed problem."""
    families, total = len(p.release), p.days
    days = np.unique(p.arrival[p.arrival < total])
    ends = np.append(days, total)
    pairs = np.array([(s, t) for s in range(len(days)) for t in range(s + 1, len(days) + 1)], dtype=np.int64)
    cost = np.full((len(p.most), len(pairs), int(p.most.max()) + 1), np.inf)
    before = np.zeros((families, len(ends)))
    for s, table in enumerate(problem.costs):
        paid = np.concatenate([np.zeros((len(table), 1)), np.cumsum(table, axis=1)], axis=1)
        cost[s, :, : len(table)] = (paid[:, ends[pairs[:, 1]]] - paid[:, ends[pairs[:, 0]]]).T
        before[problem.family_of[s]] += paid[0, ends]
    setup_min, setup_cost = _least_setups(problem, p)
    start = float(p.start_up.min())
    unit_min = p.unit_min.min(axis=0)
    # What no line can make stays unmade.
    cost[~np.isfinite(unit_min), :, 1:] = np.inf
    return _Relaxed(
        days=days,
        minutes=np.maximum([sum(_minutes(line, d) for line in problem.lines) for d in days], 1e-9),
        pairs=pairs,
        before=before,
        cost=cost,
        unit_min=np.where(np.isfinite(unit_min), unit_min, 0.0),
        family_of=problem.family_of,
        lot_min=setup_min + start,
        lot_cost=setup_cost,
        start_min=np.full(families, start),
        is_held=np.isin(np.arange(families), p.holds),
        fixed=float(sum(line.setup_cost[:, families].min() for line in problem.lines)),
    )


def _least_setups(problem: SearchProblem, p: Layout) -> tuple[Floats, Floats]:
    """Least minutes and cost of a setup from another family or from an empty line, where it takes working time."""
    families = len(p.release)
    own = np.eye(families + 1, families, dtype=bool)
    minutes = np.where(own[None], np.inf, p.setup_min).min(axis=(0, 1))
    cost = np.where(own[None], np.inf, p.setup_cost[:, :, :families]).min(axis=(0, 1))
    if any(line.setups is None and line.work is not None for line in problem.lines):
        minutes = np.zeros(families)
    return minutes, cost


def _minutes(line: SearchLine, day: int) -> float:
    """Return the minutes of a line until its last minute that counts for a day."""
    counts = np.flatnonzero((line.arrival_day <= day).any(axis=0))
    last = int(counts[-1]) if len(counts) else line.free_min
    if line.work is None or not line.stops_outside:
        return float(max(last - line.free_min, 0))
    return float(Spans(tuple(line.work)).minutes(line.free_min, last))
