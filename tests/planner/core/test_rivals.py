"""Filaments without a place: who takes the time, by exchanging by hand. One line, one day of 16 h."""

from __future__ import annotations

import re

import pytest

from stockplan.planner.core.facts import Instruction, InstructionKind, PlanFacts, SkuFacts
from stockplan.planner.core.floor import Lot
from stockplan.planner.core.left_out import Cause
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.planning import Plan, make_plan
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.ranking import all_misses, day_weights
from stockplan.planner.core.sequence import lay_out
from stockplan.planner.core.supply import supply_state
from tests.planner.small_facts import facts, sku

BUSY = sku("B", daily=8.0, order_up_to=80)
# One is there and a day's demand is more than half a spool: it can wait for the next list, B cannot.
PATIENT = sku("A", daily=0.6, shelf=1, order_up_to=6)


def _day(*skus: SkuFacts, **fields: object) -> PlanFacts:
    return facts(skus=skus, list_days=1, **fields)  # type: ignore[arg-type]


def _sentence(plan: Plan, code: str) -> str:
    left = {row.filament: row for row in plan.left_out}[code]
    assert left.cause == Cause.NO_ROOM
    return str(left.sentence)


def _misses(instance: PlanFacts, lots: list[Lot]) -> float:
    plant = plant_of(instance.in_order())
    opening = opening_of(plant)
    state = supply_state(plant, opening)
    lay_out(opening.floor.copy(), state, {"L1": lots})
    return float(all_misses(state.tables, state.supply, weights=day_weights(plant)).sum())


def test_filament_without_a_place_names_the_run_that_takes_the_time() -> None:
    plan = make_plan(_day(PATIENT, BUSY))
    told = re.search(
        r"make room, B on line L1, Mon 1 Mar, avoids (\d+\.\d+) .* in its place this would avoid (\d+\.\d+)",
        _sentence(plan, "A"),
    )
    listed, in_its_place = map(float, told.groups())  # type: ignore[union-attr]
    assert listed == pytest.approx(plan.runs[0].ranked.worth_per_hour, abs=0.005)
    assert in_its_place <= listed


def test_list_is_better_than_with_any_lot_of_the_filament_in_place_of_the_run() -> None:
    instance = _day(PATIENT, BUSY)
    plan = make_plan(instance)
    assert [row.filament for row in plan.left_out] == ["A"]
    others = [_misses(instance, [Lot("A", (n,))]) for n in range(1, 7)]
    assert plan.misses_with < min(others)


def test_filament_whose_line_is_pinned_to_another_is_in_the_place_of_none() -> None:
    pin = Instruction(InstructionKind.PIN, "B")
    plan = make_plan(_day(PATIENT, BUSY, instructions=(pin,)))
    assert "in the place of none of the runs on its lines" in _sentence(plan, "A")
