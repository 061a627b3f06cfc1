"""The least round trip through all cities: a bound by linear programmes with cuts, and its proof."""

from __future__ import annotations

import math
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np
from numpy.typing import NDArray
from ortools.graph.python import max_flow
from ortools.linear_solver import pywraplp
from scipy.optimize import LinearConstraint, milp
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

from stockplan.planner.core.search.layout import above_charges

Ints = NDArray[np.int64]
Matrix = NDArray[np.float64]
Cut = NDArray[np.bool_]
# Flows are computed in whole millionths.
WHOLE = 1_000_000
# Arcs from and to each city with which the LP begins.
NEAREST = 8


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


def tour_bound(cost: Matrix, found: float, *, branchings: int = 0) -> Tour:
    """Bound whole-number round trips by the assignment LP with all cuts against shorter trips, then by branching.

    The LP begins with the arcs that are short beside others from and to the same cities; further ones come in where
    the prices of the cities and cuts say so. Arcs whose reduced cost is more than what is left between the LP and
    `found` are in no cheaper trip and are left out. Branching parts the round trips by whether they use an arc, those
    of the least bound first.

    References
    ----------
    Dantzig, Fulkerson & Johnson, Solution of a large-scale traveling-salesman problem, Operations Research 2 (1954)
    393-410 (from memory): the cuts, the reduced costs.
    """
    lp = _Trips(cost)
    root, x = lp.relaxed()
    while lp.add(lp.reduced() < -1e-6):
        root, x = lp.relaxed()
    # Those left out from here on are in no cheaper trip.
    lp.add(lp.reduced() <= found - root + 1e-6)
    lp.solve()
    parts = [(root, 0, np.append(x, np.zeros(len(lp.use) - len(x))), {})]
    for at in range(branchings):
        bound, _, x, fixed = parts[0]
        if math.ceil(bound - 1e-6) >= found:
            break
        heappop(parts)
        arc = int(np.argmin(np.abs(x - 0.5)))
        for used in (0, 1):
            both = fixed | {arc: used}
            heappush(parts, (*lp.parted(both, at, used), both))
    bound = min(found, math.ceil(parts[0][0] - 1e-6))
    return Tour(cost, np.array(lp.start), np.array(lp.end), tuple(lp.cuts), bound)


class _Trips:
    """The LP of round trips, which goes on from where it stood when arcs, cuts and limits come in."""

    def __init__(self, cost: Matrix) -> None:
        n = len(cost)
        self.cost, self.cuts = cost, []
        self.start, self.end, self.use = [], [], []
        self.is_in = np.eye(n, dtype=bool)
        self.lp = pywraplp.Solver.CreateSolver("GLOP")
        self.lp.SetSolverSpecificParametersAsString("use_dual_simplex: true use_preprocessing: false")
        self.rows = [self.lp.Constraint(1, 1) for _ in range(2 * n)]
        self.cut_rows = []
        self.lp.Objective().SetMinimization()
        (beside,) = above_charges(cost[None])
        np.fill_diagonal(beside, np.inf)
        nearest = np.sort(beside, axis=1)[:, [NEAREST - 1]], np.sort(beside, axis=0)[NEAREST - 1]
        # One round trip, so that there is a solution from the first.
        self.add((beside <= nearest[0]) | (beside <= nearest[1]) | np.roll(np.eye(n, dtype=bool), 1, axis=1))

    def add(self, arcs: Cut) -> bool:
        """Let trips use further arcs; False if there is none."""
        new = np.argwhere(arcs & ~self.is_in).tolist()
        self.is_in |= arcs
        for i, j in new:
            use = self.lp.NumVar(0, 1, "")
            self.lp.Objective().SetCoefficient(use, float(self.cost[i, j]))
            for inside, row in zip(self.cuts, self.cut_rows, strict=True):
                if inside[i] and not inside[j]:
                    row.SetCoefficient(use, 1)
            self.rows[i].SetCoefficient(use, 1)
            self.rows[len(self.cost) + j].SetCoefficient(use, 1)
            self.start.append(i)
            self.end.append(j)
            self.use.append(use)
        return bool(new)

    def cut(self, inside: Cut) -> None:
        """Ask that a set of cities is left."""
        row = self.lp.Constraint(1, self.lp.infinity())
        for arc in np.flatnonzero(inside[self.start] & ~inside[self.end]).tolist():
            row.SetCoefficient(self.use[arc], 1)
        self.cuts.append(inside)
        self.cut_rows.append(row)

    def solve(self) -> tuple[float, Matrix]:
        """Return the least cost, infinite if there is none, and the use of each arc."""
        status = self.lp.Solve()
        if status == pywraplp.Solver.INFEASIBLE:
            return math.inf, np.zeros(len(self.use))
        if status != pywraplp.Solver.OPTIMAL:
            raise RuntimeError(f"the LP ended with status {status}")
        return self.lp.Objective().Value(), np.array([use.solution_value() for use in self.use])

    def relaxed(self) -> tuple[float, Matrix]:
        """Solve with all cuts that fractional use of arcs asks for."""
        while True:
            cost, x = self.solve()
            cuts = _missing_cuts(np.array(self.start), np.array(self.end), x, len(self.cost)) if cost < math.inf else []
            if not cuts:
                return cost, x
            for inside in cuts:
                self.cut(inside)

    def reduced(self) -> Matrix:
        """Return what each arc costs above the prices of its cities and of the cuts that it leaves."""
        n = len(self.cost)
        price = np.array([row.dual_value() for row in self.rows])
        of_cut = np.array([row.dual_value() for row in self.cut_rows])
        inside = np.array(self.cuts, dtype=float).reshape(-1, n)
        return self.cost - price[:n, None] - price[n:] - (inside.T * of_cut) @ (1 - inside)

    def parted(self, fixed: dict[int, int], at: int, used: int) -> tuple[float, int, Matrix]:
        """Solve with some arcs used or not."""
        for arc, use in fixed.items():
            self.use[arc].SetBounds(use, use)
        cost, x = self.relaxed()
        for arc in fixed:
            self.use[arc].SetBounds(0, 1)
        return cost, 2 * at + used + 1, x


def proved_tour(tour: Tour, found: float) -> float:
    """Return the optimum, from what a bound left open."""
    while tour.bound < found:
        rows = [LinearConstraint(tour.once, 1, 1), LinearConstraint(tour.leaves, 1, np.inf)]
        answer = milp(tour.arcs, integrality=np.ones(len(tour.start)), constraints=rows)
        if answer.status == 2:
            return found
        used = answer.x > 0.5
        cuts = _components(tour.start[used], tour.end[used], len(tour.cost))
        bound = min(found, math.ceil(answer.mip_dual_bound - 1e-6))
        if not cuts:
            return bound
        tour = Tour(tour.cost, tour.start, tour.end, (*tour.cuts, *cuts), bound)
    return found


def _missing_cuts(start: Ints, end: Ints, x: Matrix, n: int) -> list[Cut]:
    """Sets of cities that a solution does not leave: components, else joined cities, else least cuts from city 0."""
    used = x > 1e-6
    start, end, x = start[used], end[used], x[used]
    return _components(start, end, n) or _joined(start, end, x, n) or _least_cuts(start, end, x, n)


def _components(start: Ints, end: Ints, n: int) -> list[Cut]:
    arcs = coo_array((np.ones(len(start)), (start, end)), shape=(n, n))
    parts, label = connected_components(arcs, connection="strong")
    return [label == part for part in range(parts)] if parts > 1 else []


def _joined(start: Ints, end: Ints, x: Matrix, n: int) -> list[Cut]:
    """Join cities by the arcs most used, one after the other, and return those of the sets that are left too little."""
    group, sets = list(np.eye(n, dtype=bool)), []
    for arc in np.argsort(-x, kind="stable").tolist():
        i, j = start[arc], end[arc]
        if not group[i][j]:
            both = group[i] | group[j]
            sets.append(both)
            for city in np.flatnonzero(both).tolist():
                group[city] = both
    inside = np.array(sets)
    leaving = (inside[:, start] & ~inside[:, end]) @ x
    return list(inside[(leaving < 0.998) & ~inside.all(axis=1)])


def _least_cuts(start: Ints, end: Ints, x: Matrix, n: int) -> list[Cut]:
    """Find the least cut between city 0 and each other."""
    flow = max_flow.SimpleMaxFlow()
    flow.add_arcs_with_capacity(start, end, np.round(x * WHOLE).astype(np.int64))
    found = {}
    for city in range(1, n):
        flow.solve(0, city)
        if flow.optimal_flow() < 0.998 * WHOLE:
            inside = np.zeros(n, dtype=bool)
            inside[flow.get_source_side_min_cut()] = True
            found[inside.tobytes()] = inside
    return list(found.values())
