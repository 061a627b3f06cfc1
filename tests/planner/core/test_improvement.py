"""The search behind the index: what it is given equals what the floor does, and it never makes a list worse."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from stockplan.planner.core import improvement
from stockplan.planner.core.facts import HopperFacts, Instruction, InstructionKind, LineStop, PlanFacts, StoreItem
from stockplan.planner.core.floor import Lot
from stockplan.planner.core.improvement import first_days
from stockplan.planner.core.list_problem import list_problem
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.planning import Plan, choose_runs, make_plan, nothing_made
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.ranking import all_misses, day_weights
from stockplan.planner.core.sequence import lay_out, sequences_of
from stockplan.planner.core.supply import supply_state
from tests.planner.search.plain import plain_cost
from tests.planner.small_facts import MONDAY, RULE, calendar, facts, filament, line, material, sku

CODES = ("A", "B", "C", "D")


def busy_plant(seed: int, **fields: object) -> PlanFacts:
    """Two lines, four filaments of two materials, more demand than the lines can make."""
    rng = np.random.default_rng(seed)
    figures: dict[str, object] = {
        "codes": CODES,
        "list_days": 4,
        "skus": tuple(
            sku(code, daily=float(rng.uniform(4, 16)), order_up_to=60, shelf=int(rng.integers(0, 20)), size=size)
            for code in CODES
            for size in ("1000", "500")
        ),
        "filaments": tuple(
            filament(code, material_code=grade, lab_l=float(rng.uniform(0, 100)))
            for code, grade in zip(CODES, ("PLA", "PETG") * 2, strict=True)
        ),
        "materials": (material("PLA"), material("PETG")),
        "lines": (line("L1", makes=CODES, holds="A"), line("L2", makes=CODES[:3])),
        "calendar": calendar(lines=("L1", "L2")),
        "parameters": PlanParameters(search_moves=6000),
    }
    return facts(**(figures | fields))  # type: ignore[arg-type]


def index_alone(instance: PlanFacts) -> Plan:
    return make_plan(replace(instance, parameters=replace(instance.parameters, search_moves=0)))


@pytest.mark.parametrize("seed", range(8))
def test_search_sees_the_misses_that_the_floor_gives(seed: int) -> None:
    # No hoppers, ovens, crews, and levels far away: then the floor has no reason to see a plan differently.
    instance = busy_plant(seed)
    skus = tuple(replace(s, order_up_to=300) for s in instance.skus)
    plant = plant_of(replace(instance, skus=skus).in_order())
    opening = opening_of(plant)
    state = supply_state(plant, opening)
    given = list_problem(opening.floor, state, allowed=CODES, fixed=(), until_min=plant.end_min)
    lots = {"L1": [Lot("B", (10, 7)), Lot("A", (3, 0))], "L2": [Lot("C", (20, 4)), Lot("B", (1, 1)), Lot("C", (0, 9))]}
    lay_out(opening.floor.copy(), state, lots)
    misses = all_misses(state.tables, state.supply, weights=day_weights(plant)).sum()
    assert plain_cost(given.problem, given.plan(lots)) == pytest.approx(misses)


@pytest.mark.parametrize("seed", range(6))
def test_list_is_better_than_by_the_index_alone_when_lines_are_short(seed: int) -> None:
    instance = busy_plant(seed)
    assert make_plan(instance).misses_with < index_alone(instance).misses_with


@pytest.mark.parametrize("seed", range(4))
def test_list_states_a_bound_that_no_list_of_any_work_goes_below(seed: int) -> None:
    instance = busy_plant(seed)
    plan, other = make_plan(instance), index_alone(instance)
    assert 0 < plan.least_misses <= plan.misses_with
    assert plan.least_misses <= other.misses_with
    assert f"no list can leave fewer than {plan.least_misses:.2f}" in str(plan.assumptions[-1])


def test_forbidden_filament_stays_off_and_sized_sku_is_made_exactly_so_often() -> None:
    rows = (
        Instruction(InstructionKind.FORBID, "A"),
        Instruction(InstructionKind.RESIZE, "B", sku="B-500", spools=5),
        Instruction(InstructionKind.PIN, "C", line="L2"),
    )
    plan = make_plan(busy_plant(2, instructions=rows))
    lots = [run.ranked.run.lot for run in plan.runs]
    index = [s.code for s in plan.plant.facts.skus]
    made = dict.fromkeys(index, 0)
    for lot in lots:
        for at, spools in zip(plan.plant.skus_of[lot.filament], lot.spools, strict=True):
            made[index[at]] += spools
    assert made["A-1000"] + made["A-500"] == 0
    assert made["B-500"] == 5
    assert [
        run.ranked.run.line for run in plan.runs if run.ranked.run.lot.is_pinned and run.ranked.run.lot.filament == "C"
    ] == ["L2"]


def test_resin_in_the_store_is_not_made_twice() -> None:
    resin = StoreItem("RESIN-PLA", "PLA resin", "kg", 60.0, 3)
    plan = make_plan(busy_plant(3, store=(resin,)))
    eaten = sum(
        plan.plant.resin_kg(r.line, r.timing.changeover_from, r.lot.filament, r.lot.spools)
        for r in (run.ranked.run for run in plan.runs)
        if plan.plant.material_of[r.lot.filament].code == "PLA"
    )
    assert 0 < eaten <= 60.0


def test_no_run_is_larger_than_the_largest_hopper() -> None:
    hoppers = tuple(HopperFacts(f"H{i}", 15.0, False, 10.0, None, None) for i in range(4))
    without_purge = replace(RULE, purge_kg_per_hour=0.0)
    plan = make_plan(busy_plant(4, hoppers=hoppers, changeover_rule=without_purge))
    runs = [run.ranked.run for run in plan.runs]
    assert max(r.timing.charge.resin_kg for r in runs if r.timing.charge) <= 15.0


def test_equal_facts_give_an_equal_list_in_any_order() -> None:
    instance = busy_plant(5)
    turned = replace(instance, skus=instance.skus[::-1], filaments=instance.filaments[::-1], lines=instance.lines[::-1])
    assert make_plan(instance).runs == make_plan(turned).runs


def test_work_is_stated_in_moves_for_each_filament() -> None:
    instance = busy_plant(1)
    little = replace(instance, parameters=PlanParameters(search_moves=3))
    assert index_alone(instance).misses_with >= make_plan(little).misses_with >= make_plan(instance).misses_with


@pytest.mark.parametrize("due_on", [3, 7])
def test_search_of_the_first_days_wants_what_is_ordered_for_later_days(due_on: int) -> None:
    """60 spools ordered for the eighth day were not seen before the third morning, when they were too late."""
    ordered = (0,) * due_on + (60,) * (8 - due_on)
    instance = facts(codes=("A",), list_days=8, skus=(sku("A", daily=0.0, due=ordered, shelf=5, order_up_to=4),))
    wanted = []
    for seen in (instance, first_days(instance)):
        plant = plant_of(seen.in_order())
        wanted.append(supply_state(plant, opening_of(plant)).most(0, 0))
    # 5 of 64 are on the shelf.
    assert wanted == [59, 59]


def test_search_leaves_what_the_first_changeover_purges() -> None:
    stores = tuple(StoreItem(f"RESIN-{code}", code, "kg", 60.0, 3) for code in ("PETG", "PLA"))
    plant = plant_of(busy_plant(3, store=stores, lines=(line("L1", makes=CODES, holds="A"),)).in_order())
    opening = opening_of(plant)
    given = list_problem(
        opening.floor, supply_state(plant, opening), allowed=CODES, fixed=(), until_min=plant.end_min
    ).problem.items_of
    ways = [(before, after) for after in "BD" for before in CODES if before != after]
    purged = min(plant.resin_kg("L1", before, after, (0, 0)) for before, after in ways)
    assert purged > 0
    # The line holds A, which goes on without a changeover.
    assert given.stock == pytest.approx([60.0 - purged, 60.0])


def test_search_leaves_what_all_changeovers_purge() -> None:
    stores = tuple(StoreItem(f"RESIN-{code}", code, "kg", 60.0, 3) for code in ("PETG", "PLA"))
    plan = make_plan(busy_plant(4, store=stores, changeover_rule=replace(RULE, purge_kg_per_hour=60.0)))
    eaten = dict.fromkeys(("PETG", "PLA"), 0.0)
    for run in (row.ranked.run for row in plan.runs):
        kg = plan.plant.resin_kg(run.line, run.timing.changeover_from, run.lot.filament, run.lot.spools)
        eaten[plan.plant.material_of[run.lot.filament].code] += kg
    assert max(eaten.values()) <= 60.0 + 1e-6
    assert min(eaten.values()) > 40.0


def test_list_stands_a_little_delay(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same lots laid out ten minutes later miss hardly more, where lots that end to the minute miss ovens."""

    def lost(seed: int) -> float:
        instance = busy_plant(seed)
        made = choose_runs(instance)
        stops = tuple(LineStop(code, MONDAY, MONDAY + timedelta(minutes=10)) for code in ("L1", "L2"))
        later = nothing_made(plant_of(replace(instance, stops=stops).in_order()))
        return later.laid_out(sequences_of(made.runs)).misses - made.misses

    with_slack = sum(map(lost, range(6)))
    monkeypatch.setattr(improvement, "SLACK_MIN", 0)
    assert sum(map(lost, range(6))) > 2 * with_slack + 1.0


def test_list_says_with_what_slack_it_is_placed() -> None:
    searched, by_index = busy_plant(1), replace(busy_plant(1), parameters=PlanParameters())
    said = [
        any("15 min before the ovens" in str(row) for row in make_plan(f).assumptions) for f in (searched, by_index)
    ]
    assert said == [True, False]
