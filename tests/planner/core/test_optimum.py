"""The list against the exhaustive optimum of tiny instances: every order of every lot on one line."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import Lot
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.planning import make_plan
from stockplan.planner.core.plant import Plant, plant_of
from stockplan.planner.core.ranking import day_weights
from stockplan.planner.core.selection import Decision, place_lot
from stockplan.planner.core.shortage import total_misses
from stockplan.planner.core.supply import supply_state
from tests.planner.small_facts import facts, filament, line, material, sku

LOTS = (0, 3, 6, 9, 12)


def _instance(seed: int) -> PlanFacts:
    """Three filaments of two materials on one line for one day: 16 h hold about 40 spools and the changeovers."""
    rng = np.random.default_rng(seed)
    codes = ("A", "B", "C")
    skus = tuple(
        sku(
            c,
            daily=float(rng.uniform(0.5, 4)),
            shelf=int(rng.integers(0, 8)),
            late=int(rng.integers(0, 3)),
            order_up_to=12,
        )
        for c in codes
    )
    return facts(
        codes=codes,
        skus=skus,
        list_days=1,
        filaments=tuple(filament(c, material_code=m) for c, m in zip(codes, ("PLA", "PLA", "PETG"), strict=True)),
        materials=(material("PLA"), material("PETG")),
        lines=(line(makes=codes, holds=str(rng.choice(codes))),),
        # There is no later list: what is not avoided today is missed for good.
        parameters=PlanParameters(choice_days=8.0),
    )


def _misses(plant: Plant, lots: list[Lot], *, not_before: list[int] | None = None) -> float:
    """Misses if the lots run in this order, timed on the same floor and summed by the definition."""
    opening = opening_of(plant)
    floor, state = opening.floor.copy(), supply_state(plant, opening)
    for lot, minute in zip(lots, not_before or [0] * len(lots), strict=True):
        place_lot(floor, state, lot, Decision("L1", lot.filament, minute))
    weights = day_weights(plant)
    demand = opening.demand
    return float(total_misses(state.supply, demand, day_weight=weights, late_day_weight=0.1).sum())


def _optimum(plant: Plant) -> float:
    orders = permutations(plant.filaments)
    plans = (
        [Lot(code, (n,)) for code, n in zip(order, lots, strict=True) if n]
        for order, lots in product(orders, product(LOTS, repeat=3))
    )
    return min(_misses(plant, plan) for plan in plans)


@pytest.mark.parametrize("seed", range(6))
def test_list_is_near_the_optimum_and_its_total_holds(seed: int) -> None:
    instance = _instance(seed)
    plan = make_plan(instance)
    best = _optimum(plant_of(instance.in_order()))
    own = sorted((run.ranked.run for run in plan.runs), key=lambda run: run.timing.start_min)
    again = _misses(plan.plant, [run.lot for run in own], not_before=[run.timing.start_min for run in own])
    assert plan.misses_with == pytest.approx(again, abs=1e-5)
    # Of what can be avoided at all (in lots of three spools) the list avoids nine tenths.
    assert plan.misses_without - plan.misses_with >= 0.9 * (plan.misses_without - best)
