"""The lots of the list without a change tried with it, and the other way round. By hand; a kilogram winds in 20 min."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import pytest

from stockplan.planner.core.facts import Instruction, InstructionKind, PlanFacts, SkuFacts
from stockplan.planner.core.list_changes import PlacedRun
from stockplan.planner.core.made import Made
from stockplan.planner.core.planning import choose_runs
from stockplan.planner.core.whatif import Change, Forbid, LineDown, Pin, Resize, RushOrder, with_changes
from stockplan.planner.core.whatif_lists import with_change, without_change
from tests.planner.small_facts import MONDAY, facts, sku

DAYS = 8
MON, FRI = date(2027, 3, 1), date(2027, 3, 5)


def _due(code: str, units: int) -> SkuFacts:
    due = (0, *(units for _ in range(DAYS - 1)))
    return sku(code, due=due, mean=(0.0,) * DAYS, variance=(0.0,) * DAYS, order_up_to=0)


PLANT = facts(skus=(_due("A", 6), _due("B", 4)), list_days=5)
BEFORE = [
    PlacedRun("A", "L1", MONDAY, {"A-1000": 6}),
    PlacedRun("B", "L1", MONDAY + timedelta(hours=3), {"B-1000": 4}),
]


def _made(made: Made) -> Counter[str]:
    return Counter(run.lot.filament for run in made.runs for _ in range(sum(run.lot.spools)))


def _nothing(*changes: Change, plant: PlanFacts = PLANT) -> Made:
    """A list with the change that a search without luck came to: nothing is made."""
    return replace(choose_runs(with_changes(plant, changes)), runs=()).laid_out({})


def test_lots_of_the_list_before_are_taken_where_they_miss_fewer() -> None:
    unlucky = _nothing(LineDown("L1", MON))
    found = with_change(PLANT, BEFORE, unlucky)
    assert _made(found) == {"A": 6, "B": 4}
    assert found.misses < unlucky.misses
    # They are timed with the change: the line stands on Monday.
    assert all(run.timing.start_min >= 18 * 60 for run in found.runs)


def test_lots_of_the_list_before_that_the_change_bans_are_left_out() -> None:
    assert _made(with_change(PLANT, BEFORE, _nothing(Forbid("A")))) == {"B": 4}


def test_what_is_ordered_besides_is_added_to_the_first_lot_of_its_filament() -> None:
    found = with_change(PLANT, BEFORE, _nothing(RushOrder("B-1000", 3, FRI)))
    assert _made(found) == {"A": 6, "B": 7}


def test_list_with_the_change_stays_where_it_misses_fewer() -> None:
    lucky = choose_runs(with_changes(PLANT, [RushOrder("A-1000", 9, FRI)]))
    assert with_change(PLANT, BEFORE, lucky) is lucky
    assert _made(lucky)["A"] == 15


@pytest.mark.parametrize("pin", [Pin("B"), Pin("B", "L1")])
def test_lots_of_the_list_before_are_tried_where_they_hold_what_is_pinned(pin: Pin) -> None:
    assert _made(with_change(PLANT, BEFORE, _nothing(pin))) == {"A": 6, "B": 4}


@pytest.mark.parametrize(("change", "before"), [(Pin("B"), BEFORE[:1]), (Resize("B-1000", 9), BEFORE)])
def test_lots_of_the_list_before_are_not_tried_where_they_do_not_do_what_the_change_says(
    change: Change, before: list[PlacedRun]
) -> None:
    other = _nothing(change)
    assert with_change(PLANT, before, other) is other


def test_lots_of_the_list_with_the_change_are_tried_without_it() -> None:
    after = choose_runs(with_changes(PLANT, [RushOrder("A-1000", 9, FRI)]))
    found = without_change(PLANT, after)
    assert found is not None
    assert _made(found) == {"A": 15, "B": 4}
    # What was ordered besides is not there to be missed.
    assert found.misses == pytest.approx(choose_runs(PLANT).misses)


def test_lots_that_an_instruction_in_force_bans_are_not_tried_without_the_change() -> None:
    banned = replace(PLANT, instructions=(Instruction(InstructionKind.FORBID, "B"),))
    after = choose_runs(with_changes(banned, [Pin("B")]))
    assert _made(after)["B"] == 4
    assert without_change(banned, after) is None
