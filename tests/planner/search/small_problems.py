"""Random problems of the search, small enough to be looked through whole or costed plainly."""

from __future__ import annotations

import numpy as np

from stockplan.planner.core.search.problem import NOTHING, SearchLine, SearchProblem

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
