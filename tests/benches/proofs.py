"""Bounds and proofs by solvers, against which `bench_plan_published` measures the search."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model
from scipy.optimize import LinearConstraint, milp
from scipy.sparse import csr_array, vstack

Ints = NDArray[np.int64]
Matrix = NDArray[np.float64]
Cut = NDArray[np.bool_]


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
