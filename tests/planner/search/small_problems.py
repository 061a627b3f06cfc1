"""Random problems of the search, small enough to be looked through whole or costed plainly."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from stockplan.planner.core.search.problem import (
    NOTHING,
    SearchItems,
    SearchLine,
    SearchLot,
    SearchPlan,
    SearchProblem,
)

SHIFTS = tuple((day * 100, day * 100 + 60) for day in range(6))
CREWS = tuple((day * 100 + 5, day * 100 + 45) for day in range(6))


def random_problem(
    seed: int, *, families: int = 4, lines: int = 2, most: int = 4, days: int = 6, sizes: int = 2
) -> SearchProblem:
    """Families of one to `sizes` SKUs, lines with shifts and crews, costs that fall with supply but are not convex."""
    rng = np.random.default_rng(seed)
    family_of = np.repeat(np.arange(families), rng.integers(1, sizes + 1, families))
    made = [_line(rng, families, len(family_of)) for _ in range(lines)]
    costs = [
        -np.sort(-rng.integers(0, 30, (int(rng.integers(1, most + 1)) + 1, days)), axis=0).astype(float)
        for _ in family_of
    ]
    release = rng.choice([0, 0, 30, 120], families)
    return SearchProblem(made, family_of, costs, release, rng.integers(0, 2, families))


def _line(rng: np.random.Generator, families: int, skus: int) -> SearchLine:
    setup_min = rng.integers(0, 35, (families + 1, families))
    setup_cost = rng.integers(0, 6, (families + 1, families + 1)).astype(float)
    np.fill_diagonal(setup_min, 0)
    np.fill_diagonal(setup_cost, 0)
    unit_min = rng.uniform(2, 12, skus)
    unit_min[rng.random(skus) < 0.1] = np.inf
    arrival = np.searchsorted([60, 160, 260, 360, 460], np.arange(700))
    later = np.searchsorted([40, 140, 240, 340, 440], np.arange(700)) + 1
    return SearchLine(
        setup_min=setup_min,
        setup_cost=setup_cost,
        unit_min=unit_min,
        arrival_day=np.minimum(np.stack([arrival, later]), 6),
        holds=int(rng.integers(NOTHING, families)),
        free_min=int(rng.integers(0, 20)),
        start_up_min=float(rng.integers(0, 4)),
        work=SHIFTS,
        setups=CREWS if rng.random() < 0.5 else SHIFTS,
        stops_outside=bool(rng.random() < 0.7),
    )


def with_items(problem: SearchProblem, *, seed: int) -> SearchProblem:
    """Two items, of which there is not enough for all that may be made."""
    rng = np.random.default_rng(seed)
    use = rng.integers(0, 4, (len(problem.family_of), 2)) / 2
    most = np.array([len(table) - 1 for table in problem.costs])
    return replace(problem, items=SearchItems(use, np.floor(rng.uniform(0.2, 0.9, 2) * (use.T @ most))))


def is_stocked(problem: SearchProblem, plan: SearchPlan) -> bool:
    """Say whether there are the items for a plan, counted lot by lot."""
    taken = np.zeros(len(problem.items_of.stock))
    for lot in (lot for lots in plan for lot in lots):
        for sku, units in zip(np.flatnonzero(problem.family_of == lot.family), lot.units, strict=True):
            taken += units * problem.items_of.use[sku]
    return bool(np.all(taken <= problem.items_of.stock + 1e-9))


def every_plan(problem: SearchProblem) -> Iterator[SearchPlan]:
    """Every sequence of lots on every line of a problem with one SKU a family, for which there are items."""

    def longer(plan: SearchPlan, left: tuple[int, ...], line: int) -> Iterator[SearchPlan]:
        yield plan
        # Lines are filled one after the other, so that no plan comes twice.
        for at in range(line, len(problem.lines)):
            for family, units in enumerate(left):
                able = np.isfinite(problem.lines[at].unit_min[family])
                for n in range(1, units + 1 if able else 1):
                    lots = (*plan[at], SearchLot(family, (n,)))
                    rest = (*left[:family], units - n, *left[family + 1 :])
                    yield from longer((*plan[:at], lots, *plan[at + 1 :]), rest, at)

    most = tuple(len(table) - 1 for table in problem.costs)
    return (plan for plan in longer(((),) * len(problem.lines), most, 0) if is_stocked(problem, plan))
