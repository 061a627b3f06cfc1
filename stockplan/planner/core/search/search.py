"""Improve a plan by compiled local search: the one function that the planner and the tests call."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import numpy as np

from stockplan.planner.core.search.layout import Layout, Plan, layout_of, plan_arrays, plan_of
from stockplan.planner.core.search.problem import Budget, Floats, Found, SearchLot, SearchPlan, SearchProblem
from stockplan.planner.core.search.state import state_of, trial_of, walk_of

# Cumulated shares of the moves where lots may be made, resized and dropped: exchange, resize, transfer, split, drop;
# the rest adds. Where every lot is one unit that must be made, only the order is open.
MOVE_SHARES = (0.35, 0.65, 0.73, 0.79, 0.86)
# Lots beside those of the start for which there is room, and two for each family.
ROOM = 64
# What lots share matters where it makes a plan dearer than this.
CONFIRMED = 1.01
ORDER_ONLY = (1.0, 1.0, 1.0, 1.0, 1.0)
Laid = TypeVar("Laid")


def search(problem: SearchProblem, start: SearchPlan, *, budget: Budget) -> Found:
    """Return the best plan found from a start.

    Equal problem, start and budget give an equal plan. The first call on a machine compiles for some seconds; later
    ones read the machine code from disk.

    Notes
    -----
    A move costs what it changes: nothing but the pairs of an exchange where no time shifts, else the lots up to the
    one that ends as before. About 0.2 to 1 microsecond.
    """
    # numba takes long to import, and most of the service never searches.
    from stockplan.planner.core.search.anneal import anneal  # noqa: PLC0415

    layout = layout_of(problem)
    check_plan(layout, start)
    room = ROOM + 2 * len(layout.release) if layout.can_resize else 0
    arrays = plan_arrays(layout, start, room=room)
    now, best = state_of(layout, arrays), state_of(layout, Plan(*(array.copy() for array in arrays)))
    shares = np.array(MOVE_SHARES if layout.can_resize else ORDER_ONLY)
    guided = _setups_differ(layout)
    # A descent by setups does not see the minutes that they take.
    leaps = guided and not layout.can_resize and not layout.setup_min.any() and not budget.least_gain
    cost = anneal(
        layout,
        now,
        best,
        trial_of(layout, now),
        walk_of(now),
        np.array([budget.seed], dtype=np.uint64),
        shares,
        guided,
        leaps,
        budget.moves,
        budget.rounds,
        budget.least_gain,
    )
    return Found(plan_of(layout, best), float(cost))  # type: ignore[arg-type]


def search_on_floor(
    problem: SearchProblem,
    start: SearchPlan,
    *,
    moves: int,
    seeds: Sequence[int],
    laid_out: Callable[[SearchPlan], Laid],
    cost: Callable[[Laid], float],
) -> list[tuple[Found, Laid]]:
    """Return what searches side by side find: without what lots share, and on from there with it where that matters.

    Parameters
    ----------
    laid_out, cost
        Put a plan on the floor, with all that its lots share, and say what it costs there.
    """
    budgets = [Budget(moves=moves, seed=seed) for seed in seeds]
    # Compiled code lets go of the interpreter: two searches take hardly longer than one.
    with ThreadPoolExecutor() as pool:
        found = list(pool.map(lambda budget: search(problem.unshared, start, budget=budget), budgets))
        on_floor = [(each, laid_out(each.plan)) for each in found]
        if all(cost(laid) <= CONFIRMED * each.cost for each, laid in on_floor):
            return on_floor
        again = pool.map(lambda each, budget: search(problem, each.plan, budget=budget), found, budgets)
        return [(each, laid_out(each.plan)) for each in again]


def random_start(problem: SearchProblem, *, seed: int) -> SearchPlan:
    """Return a plan that makes all that may be made, one lot a family, in random order on random lines."""
    rng = np.random.default_rng(seed)
    layout = layout_of(problem)
    lines: list[list[SearchLot]] = [[] for _ in problem.lines]
    for family in rng.permutation(len(layout.release)):
        skus = layout.sku[family, : layout.sizes[family]]
        able = [at for at, line in enumerate(problem.lines) if np.all(np.isfinite(line.unit_min[skus]))]
        if able:
            units = tuple(int(n) for n in layout.most[skus])
            lines[able[rng.integers(len(able))]].append(SearchLot(int(family), units))
    return tuple(tuple(line) for line in lines)


def check_plan(layout: Layout, plan: SearchPlan) -> None:
    """Raise ValueError if a plan has a lot that its line cannot make, or makes more than may be or items allow."""
    units_of = [0] * len(layout.most)
    sku, sizes, able = layout.sku.tolist(), layout.sizes.tolist(), np.isfinite(layout.unit_min).tolist()
    for line, lots in enumerate(plan):
        for lot in lots:
            skus = sku[lot.family][: sizes[lot.family]]
            if len(skus) != len(lot.units) or min(lot.units) < 0 or not any(lot.units):
                raise ValueError(f"lot of family {lot.family} has units {lot.units} for {len(skus)} SKUs")
            for s, units in zip(skus, lot.units, strict=True):
                if units > 0 and not able[line][s]:
                    raise ValueError(f"line {line} cannot make family {lot.family}")
                units_of[s] += units
    made = np.array(units_of)
    over = np.flatnonzero(made > layout.most)
    if len(over):
        raise ValueError(f"SKU {over[0]} is made {made[over[0]]} times, at most {layout.most[over[0]]} may be")
    taken = np.zeros(len(layout.stock) + 1)
    # Where an SKU has no further item, -1 counts on the entry behind the last.
    np.add.at(taken, layout.item, layout.item_use * made[:, None])
    short = np.flatnonzero(taken[:-1] > layout.stock + 1e-6)
    if len(short):
        raise ValueError(f"item {short[0]}: {taken[short[0]]:g} are taken of {layout.stock[short[0]]:g}")


def _setups_differ(layout: Layout) -> bool:
    """Say whether it matters which family stands before which."""
    families = len(layout.release)
    costs: Floats = layout.setup_cost[:, :families, :families]
    return bool(np.ptp(costs) > 0 or np.ptp(layout.setup_min[:, :families]) > 0)
