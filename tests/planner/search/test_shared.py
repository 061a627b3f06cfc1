"""Hoppers, ovens and packing in the compiled search against the floor, which times the same lots by its own reading."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from stockplan.planner.core.facts import HopperFacts, OvenFacts, PlanFacts
from stockplan.planner.core.floor import Lot
from stockplan.planner.core.list_problem import ListProblem, list_problem
from stockplan.planner.core.opening import Opening, opening_of
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.ranking import all_misses, day_weights
from stockplan.planner.core.search.problem import Budget, SearchPlan
from stockplan.planner.core.search.search import random_start, search
from stockplan.planner.core.sequence import lay_out
from stockplan.planner.core.supply import SupplyState, supply_state
from tests.planner.small_facts import MONDAY, calendar, facts, filament, line, material, sku

CODES = ("A", "B", "C", "D", "E", "F")
GRADES = ("PLA", "PETG", "TPU")
NONE_TRIED, BUDGET = Budget(moves=1, rounds=0), Budget(moves=20_000)


def _plant(seed: int, *, feeds: bool) -> PlanFacts:
    """Three lines, three materials that dry for one to six hours, and fewer hoppers than there are lines."""
    rng = np.random.default_rng(seed)
    hoppers = tuple(
        HopperFacts(
            code=f"H{at}",
            capacity_kg=float(rng.uniform(8, 40)),
            is_continuous=feeds and at == 0,
            clean_min=float(rng.integers(0, 30)),
            holds_material=str(rng.choice(GRADES)) if rng.random() < 0.7 else None,
            dried_since=MONDAY - timedelta(hours=int(rng.integers(0, 12))) if rng.random() < 0.7 else None,
        )
        for at in range(2)
    )
    return facts(
        codes=CODES,
        list_days=5,
        skus=tuple(
            sku(code, daily=float(rng.uniform(2, 8)), order_up_to=300, target_kg=kg, size=size)
            for code in CODES
            for size, kg in (("1000", 1.0), ("500", 0.5))
        ),
        filaments=tuple(
            filament(code, material_code=GRADES[at % 3], lab_l=float(rng.uniform(0, 100)), let_down_share=0.02 * at)
            for at, code in enumerate(CODES)
        ),
        materials=tuple(
            material(grade, resin_dry_h=float(hours), dried_keeps_h=float(rng.integers(1, 8)))
            for grade, hours in zip(GRADES, rng.integers(1, 7, 3), strict=True)
        ),
        lines=tuple(
            line(code, makes=CODES, holds=str(rng.choice(CODES)), scrap_share=0.03, runs_unattended=code == "L3")
            for code in ("L1", "L2", "L3")
        ),
        calendar=calendar(lines=("L1", "L2", "L3")),
        hoppers=hoppers,
    )


def _given(instance: PlanFacts) -> tuple[ListProblem, Opening, SupplyState]:
    plant = plant_of(instance.in_order())
    opening = opening_of(plant)
    state = supply_state(plant, opening)
    found = list_problem(opening.floor, state, allowed=CODES, fixed=(), until_min=plant.end_min)
    return found, opening, state


def _on_the_floor(instance: PlanFacts, plan: SearchPlan) -> tuple[float, int]:
    """Misses of a plan as the floor times it, and how many of its lots begin in time."""
    found, opening, state = _given(instance)
    runs = lay_out(opening.floor.copy(), state, found.sequences(plan))
    weights = day_weights(opening.floor.plant)
    return float(all_misses(state.tables, state.supply, weights=weights).sum()), len(runs)


def _a_few_lots(seed: int, found: ListProblem) -> SearchPlan:
    """Lots of one to eight spools of each size in random order, few enough to begin before the list ends."""
    rng = np.random.default_rng(seed)
    lots: dict[str, list[Lot]] = {line: [] for line in found.lines}
    for code in (*rng.permutation(CODES), *rng.permutation(CODES)):
        lots[str(rng.choice(found.lines))].append(Lot(str(code), (int(rng.integers(1, 9)), int(rng.integers(0, 9)))))
    return found.plan(lots)


@pytest.mark.parametrize("feeds", [False, True])
@pytest.mark.parametrize("seed", range(15))
def test_search_sees_the_misses_that_the_floor_gives_with_its_hoppers(seed: int, *, feeds: bool) -> None:
    instance = _plant(seed, feeds=feeds)
    found, _, _ = _given(instance)
    plan = _a_few_lots(seed, found)
    misses, started = _on_the_floor(instance, plan)
    assert started == sum(map(len, plan))
    assert search(found.problem, plan, budget=NONE_TRIED).cost == pytest.approx(misses)


@pytest.mark.parametrize("seed", range(6))
def test_plan_found_with_hoppers_costs_what_the_floor_says_and_less_than_one_found_without(seed: int) -> None:
    instance = _plant(seed, feeds=seed % 2 == 0)
    found, _, _ = _given(instance)
    start = random_start(found.problem, seed=seed)
    with_them = search(found.problem, start, budget=BUDGET)
    without = search(replace(found.problem, dryers=None), start, budget=BUDGET)
    assert with_them.cost == pytest.approx(_on_the_floor(instance, with_them.plan)[0], rel=0.01)
    assert with_them.cost < _on_the_floor(instance, without.plan)[0]


def _narrow(seed: int, places: float) -> PlanFacts:
    """The same plants with two ovens, of which one is too hot for a material, and mornings that pack a few spools."""
    instance, days = _plant(seed, feeds=True), calendar(lines=("L1", "L2", "L3"))
    rules = {day: replace(rule, pack_spools=int(places) + 2) for day, rule in days.day_rules.items()}
    return replace(
        instance,
        skus=tuple(replace(s, oven_places=2.5 * s.target_kg) for s in instance.skus),
        materials=tuple(
            replace(m, spool_dry_max_c=70 if m.code == "PLA" else 55, spool_dry_h=6.0 if m.code != "TPU" else 0.0)
            for m in instance.materials
        ),
        ovens=(OvenFacts("O1", places, 50), OvenFacts("O2", places / 2, 60)),
        calendar=replace(days, day_rules=rules),
    )


@pytest.mark.parametrize("seed", range(15))
def test_search_sees_the_misses_that_the_floor_gives_with_its_ovens_and_packing(seed: int) -> None:
    # Lots of one spool come in one piece, whatever room there is.
    instance = _narrow(seed, 4.0)
    found, _, _ = _given(instance)
    single = {
        line: [Lot(lot.filament, (1, 0) if n % 3 else (0, 1)) for n, lot in enumerate(lots)]
        for line, lots in found.sequences(_a_few_lots(seed, found)).items()
    }
    plan = found.plan(single)
    misses, started = _on_the_floor(instance, plan)
    assert started == sum(map(len, plan)) > 10
    assert search(found.problem, plan, budget=NONE_TRIED).cost == pytest.approx(misses)
    free = search(replace(found.problem, finishing=None), plan, budget=NONE_TRIED).cost
    assert free < misses - 0.1


@pytest.mark.parametrize("seed", range(15))
def test_lot_that_room_splits_counts_from_its_last_spools_on(seed: int) -> None:
    instance = _narrow(seed, 20.0)
    found, _, _ = _given(instance)
    plan = _a_few_lots(seed, found)
    misses, _ = _on_the_floor(instance, plan)
    free = search(replace(found.problem, finishing=None), plan, budget=NONE_TRIED).cost
    assert free - 1e-6 <= misses <= search(found.problem, plan, budget=NONE_TRIED).cost + 1e-6


def test_hoppers_matter_in_these_plants() -> None:
    later = 0
    for seed in range(15):
        found, _, _ = _given(_plant(seed, feeds=False))
        plan = _a_few_lots(seed, found)
        free, dried = (
            search(problem, plan, budget=NONE_TRIED).cost
            for problem in (replace(found.problem, dryers=None), found.problem)
        )
        later += dried > free + 1e-6
    assert later >= 10
