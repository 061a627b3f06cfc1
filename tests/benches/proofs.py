"""Bounds and proofs by solvers, against which `bench_plan_published` measures the search."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model
from scipy.optimize import LinearConstraint, OptimizeResult, linprog, milp
from scipy.sparse import coo_array, csr_array, vstack
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

Matrix = NDArray[np.float64]
Cut = NDArray[np.bool_]
# Flows are computed in whole millionths.
WHOLE = 1_000_000


@dataclass(frozen=True)
class Tour:
    """What is known of all round trips cheaper than one that was found: arcs they can use, cuts, and a bound."""

    cost: Matrix
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    cuts: tuple[Cut, ...]
    bound: float

    @property
    def arcs(self) -> Matrix:
        """Cost of each arc."""
        return self.cost[self.start, self.end]

    @property
    def once(self) -> csr_array:
        """Each city is left and reached once."""
        n, k = len(self.cost), len(self.start)
        rows = np.concatenate([self.start, n + self.end])
        return csr_array((np.ones(2 * k), (rows, np.tile(np.arange(k), 2))), shape=(2 * n, k))

    @property
    def leaves(self) -> csr_array:
        """Each set of cities that was cut is left."""
        rows = [inside[self.start] & ~inside[self.end] for inside in self.cuts]
        return csr_array(np.array(rows, dtype=float).reshape(-1, len(self.start)))


def tour_bound(cost: Matrix, found: float) -> Tour:
    """Bound whole-number round trips by the assignment LP with all cuts against shorter trips.

    Arcs whose reduced cost is more than what is left between the LP and `found` are in no cheaper trip and are dropped.

    References
    ----------
    Dantzig, Fulkerson & Johnson, Solution of a large-scale traveling-salesman problem, Operations Research 2 (1954)
    393-410 (from memory): the cuts, the reduced costs.
    """
    start, end = np.nonzero(~np.eye(len(cost), dtype=bool))
    tour = Tour(cost, start, end, (), -math.inf)
    while True:
        lp = _lp(tour)
        cuts = _missing_cuts(tour, lp.x)
        stays = lp.lower.marginals <= found - lp.fun + 1e-6
        bound = min(found, math.ceil(lp.fun - 1e-6))
        tour = Tour(cost, tour.start[stays], tour.end[stays], (*tour.cuts, *cuts), bound)
        if not cuts or bound == found:
            return tour


def branched(tour: Tour, found: float, *, branchings: int) -> Tour:
    """Raise a bound: part the round trips by whether they use an arc, those of the least bound first."""
    k = len(tour.start)
    tour, bound, x = _relaxed(tour, np.zeros(k), np.ones(k))
    parts = [(bound, 0, x, np.zeros(k), np.ones(k))]
    for at in range(branchings):
        _, _, x, lo, hi = heappop(parts)
        arc = np.argmin(np.abs(x - 0.5))
        for used in (0, 1):
            least, most = lo.copy(), hi.copy()
            least[arc] = most[arc] = used
            tour, bound, x = _relaxed(tour, least, most)
            heappush(parts, (bound, 2 * at + used + 1, x, least, most))
    bound = parts[0][0]
    return replace(tour, bound=found if bound >= found else math.ceil(bound - 1e-6))


def _relaxed(tour: Tour, least: Matrix, most: Matrix) -> tuple[Tour, float, Matrix]:
    """Return round trips with all cuts that fractional use of arcs within limits asks for, its cost and the use."""
    while True:
        answer = _lp(tour, least, most)
        if answer.status == 2:
            return tour, math.inf, most
        cuts = _missing_cuts(tour, answer.x)
        if not cuts:
            return tour, answer.fun, answer.x
        tour = replace(tour, cuts=(*tour.cuts, *cuts))


def _lp(tour: Tour, least: Matrix | float = 0.0, most: Matrix | float = 1.0) -> OptimizeResult:
    cut = {"A_ub": -tour.leaves, "b_ub": -np.ones(len(tour.cuts))} if tour.cuts else {}
    limits = np.broadcast_to(np.column_stack([least, most]), (len(tour.start), 2))
    return linprog(tour.arcs, A_eq=tour.once, b_eq=np.ones(2 * len(tour.cost)), bounds=limits, method="highs", **cut)


def proved_tour(tour: Tour, found: float) -> float:
    """Return the optimum, from what a bound left open."""
    while tour.bound < found:
        rows = [LinearConstraint(tour.once, 1, 1), LinearConstraint(tour.leaves, 1, np.inf)]
        answer = milp(tour.arcs, integrality=np.ones(len(tour.start)), constraints=rows)
        if answer.status == 2:
            return found
        cuts = _components(tour, answer.x > 0.5)
        bound = min(found, math.ceil(answer.mip_dual_bound - 1e-6))
        if not cuts:
            return bound
        tour = Tour(tour.cost, tour.start, tour.end, (*tour.cuts, *cuts), bound)
    return found


def _missing_cuts(tour: Tour, x: NDArray[np.float64]) -> list[Cut]:
    """Sets of cities that a solution does not leave: its components, else its least cuts from city 0."""
    used, n = x > 1e-6, len(tour.cost)
    cuts = _components(tour, used)
    if cuts:
        return cuts
    flow = np.round(x[used] * WHOLE).astype(np.int32)
    room = csr_array((flow, (tour.start[used], tour.end[used])), shape=(n, n))
    found = {}
    for city in range(1, n):
        flown = maximum_flow(room, 0, city)
        if flown.flow_value < 0.998 * WHOLE:
            left = csr_array(np.maximum((room - flown.flow).toarray(), 0))
            inside = np.zeros(n, dtype=bool)
            inside[breadth_first_order(left, 0, return_predecessors=False)] = True
            found[inside.tobytes()] = inside
    return list(found.values())


def _components(tour: Tour, used: Cut) -> list[Cut]:
    n = len(tour.cost)
    arcs = coo_array((np.ones(used.sum()), (tour.start[used], tour.end[used])), shape=(n, n))
    parts, label = connected_components(arcs, connection="strong")
    return [label == part for part in range(parts)] if parts > 1 else []


def rival_lines(between: Matrix, first: Matrix, plan: list[list[int]], *, seconds: float) -> tuple[float, float]:
    """Return cost and bound of CP-SAT on lines with as many slots each, warm-started with a plan of all runs.

    One circuit goes through the runs and, between two lines, through the line's own node; ranks count a line's slots.
    """
    lines, runs = first.shape
    slots = runs // lines
    model = cp_model.CpModel()
    rank = [model.new_int_var(0, slots - 1, "") for _ in range(runs)]
    follows = dict(_follows(plan, runs))
    arcs, cost = [], []
    for i in range(runs + lines):
        for j in range(runs + lines):
            if i == j or (i >= runs and j >= runs):
                continue
            arc = model.new_bool_var("")
            arcs.append((i, j, arc))
            model.add_hint(arc, follows[i] == j)
            if i >= runs:
                model.add(rank[j] == 0).only_enforce_if(arc)
                cost.append(int(first[i - runs, j]) * arc)
            elif j >= runs:
                model.add(rank[i] == slots - 1).only_enforce_if(arc)
            else:
                model.add(rank[j] == rank[i] + 1).only_enforce_if(arc)
                cost.append(int(between[i, j]) * arc)
    for line in plan:
        for place, run in enumerate(line):
            model.add_hint(rank[run], place)
    model.add_circuit(arcs)
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.solve(model)
    return solver.objective_value, solver.best_objective_bound


def _follows(plan: list[list[int]], runs: int) -> list[tuple[int, int]]:
    """What follows what on the circuit: a line's node, its runs, the next line's node."""
    circuit = [at for line, order in enumerate(plan) for at in (runs + line, *order)]
    return list(zip(circuit, [*circuit[1:], circuit[0]], strict=True))


def proved_pigment(demand: list[list[int]], h: int, changeover: list[list[int]]) -> float:
    """Return the optimum of discrete lot sizing: what stands ready in each period is a path, units are made on it.

    Variables: for each period t > 0 and pair of items z[t, i, j], which stand ready in t - 1 and t; then x[i, t] made.
    """
    due, setup = np.array(demand), np.array(changeover, dtype=float)
    items, periods = due.shape
    z = np.arange((periods - 1) * items * items).reshape(periods - 1, items, items)
    x = z.size + np.arange(items * periods).reshape(items, periods)
    late = np.arange(periods, 0, -1) - 1
    held = h * ((due * -late).sum() + 0.0)
    cost = np.concatenate([np.tile(setup.ravel(), periods - 1), np.tile(h * late, items)])
    rows = _Rows(z.size + x.size)
    rows.add(z[0].ravel(), [], 1, 1)
    for t in range(periods):
        for i in range(items):
            ready = z[t - 1, :, i] if t else z[0, i]
            rows.add([x[i, t]], ready, -np.inf, 0)
            rows.add(x[i, : t + 1], [], due[i, : t + 1].sum(), np.inf)
            if 0 < t < periods - 1:
                rows.add(z[t - 1, :, i], z[t, i], 0, 0)
    for i in range(items):
        rows.add(x[i], [], due[i].sum(), due[i].sum())
    answer = milp(cost, integrality=np.ones(len(cost)), bounds=(0, 1), constraints=rows.constraint())
    return float(np.round(answer.fun + held, 6))


def proved_tardiness(minutes: list[int], weight: list[int], due: list[int]) -> float:
    """Return the optimum of weighted tardiness on one machine: which job begins in which minute (time-indexed)."""
    end = sum(minutes)
    begins = [(job, at) for job, m in enumerate(minutes) for at in range(end - m + 1)]
    cost = [weight[job] * max(at + minutes[job] - due[job], 0) for job, at in begins]
    job, at = np.array(begins).T
    k = len(begins)
    once = csr_array((np.ones(k), (job, np.arange(k))), shape=(len(minutes), k))
    busy = [((at <= t) & (t < at + np.array(minutes)[job])).astype(float) for t in range(end)]
    rows = [LinearConstraint(once, 1, 1), LinearConstraint(csr_array(np.array(busy)), 1, 1)]
    answer = milp(cost, integrality=np.ones(k), bounds=(0, 1), constraints=rows)
    return float(np.round(answer.fun, 6))


class _Rows:
    """Rows of sums: of some variables less others, between two limits."""

    def __init__(self, width: int) -> None:
        self.width, self.at, self.limits = width, [], []

    def add(self, plus: Sequence[int], minus: Sequence[int], lo: float, hi: float) -> None:
        row = np.zeros(self.width)
        row[np.asarray(plus, dtype=int)], row[np.asarray(minus, dtype=int)] = 1, -1
        self.at.append(csr_array(row[None]))
        self.limits.append((lo, hi))

    def constraint(self) -> LinearConstraint:
        lo, hi = np.array(self.limits).T
        return LinearConstraint(vstack(self.at), lo, hi)
