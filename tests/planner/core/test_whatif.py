"""One thing or another changed, and the list of it by hand. A kilogram winds in 20 minutes, a start-up takes 10."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from stockplan.planner.core.facts import CommittedRun, Instruction, InstructionKind, PlanFacts, SkuFacts, StoreItem
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.planning import choose_runs, make_plan
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.whatif import (
    Change,
    Forbid,
    ItemLate,
    LineDown,
    Pin,
    ReplanReleased,
    Resize,
    RushOrder,
    WhatIfError,
    change_of,
    with_changes,
)
from stockplan.planner.core.whatif_answers import released_verdict, shipped_on
from tests.planner.small_facts import MONDAY, facts, line, sku

DAYS = 8
MON, TUE, WED = (date(2027, 3, day) for day in (1, 2, 3))
RESIN = StoreItem("RESIN-PLA", "PLA resin", "kg", 1000.0, 3)


def _due(code: str, units: int, *, on_day: int = 1) -> SkuFacts:
    """Units that are in the books for one day (index), and nothing more to come."""
    due = tuple(units if day >= on_day else 0 for day in range(DAYS))
    return sku(code, due=due, mean=(0.0,) * DAYS, variance=(0.0,) * DAYS, order_up_to=0)


def _facts(**fields: Any) -> PlanFacts:
    return facts(**({"skus": (_due("A", 6), _due("B", 0)), "store": (RESIN,)} | fields))


def _runs(plant: PlanFacts, *changes: Change) -> list[TimedRun]:
    return list(choose_runs(with_changes(plant, changes)).runs)


def test_line_that_is_down_today_winds_tomorrow() -> None:
    (run,) = _runs(_facts(), LineDown("L1", MON))
    # The shift begins at 06:00 on Tuesday, 24 h after the list's instant.
    assert (run.timing.start_min, run.timing.end_min) == (1440, 1440 + 130)


def test_run_without_a_shift_stands_still_while_its_line_is_down() -> None:
    (run,) = _runs(
        _facts(skus=(_due("A", 60), _due("B", 0)), lines=(line(makes=("A", "B"), runs_unattended=True),)),
        LineDown("L1", TUE),
    )
    # 1,210 minutes from Monday 06:00 on; at midnight, minute 1,080, it stops for a day of 1,440.
    assert (run.timing.start_min, run.timing.end_min) == (0, 1210 + 1440)


def test_released_run_ends_later_by_what_its_line_is_down() -> None:
    began, ends = MONDAY, MONDAY + timedelta(hours=28)
    released = CommittedRun("R1", "A", "L1", True, began, ends, None, {"A-1000": 9})
    plant = plant_of(with_changes(_facts(committed=(released,)), [LineDown("L1", TUE)]).in_order())
    # It would have ended at 10:00 on Tuesday, four hours into the shift.
    assert opening_of(plant).floor.lines["L1"].free_min == 2 * 1440 + 240


def test_rush_order_is_made() -> None:
    runs = _runs(_facts(), RushOrder("B-1000", 60, TUE))
    assert {run.lot.filament: run.lot.spools for run in runs} == {"A": (6,), "B": (60,)}


def test_rush_order_that_cannot_come_in_time_costs_its_spools() -> None:
    plant = _facts(skus=(_due("A", 0), _due("B", 0)))
    before, after = (choose_runs(with_changes(plant, c)).misses for c in ([], [RushOrder("B-1000", 6, MON)]))
    # Wound on Monday they are on Tuesday's shelf: six spools miss their day, and none waits over another.
    assert after - before == pytest.approx(6)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        # Wound on Monday they are on Tuesday's shelf.
        (RushOrder("B-1000", 6, TUE), "The rush order of 6 × B-1000 due on Tue 2 Mar ships on that day."),
        (RushOrder("B-1000", 6, MON), "due on Mon 1 Mar is late: it ships complete on Tue 2 Mar."),
        # 60 take 20 hours of shifts of 16, and the line makes six of A as well.
        (RushOrder("B-1000", 60, TUE), "due on Tue 2 Mar is late: it ships complete on Wed 3 Mar."),
        (RushOrder("A-1000", 6, TUE), "The rush order of 6 × A-1000 due on Tue 2 Mar ships on that day."),
    ],
)
def test_rush_order_is_told_when_it_ships(change: RushOrder, said: str) -> None:
    made = choose_runs(with_changes(_facts(), [change]))
    assert str(shipped_on(change, facts=made.floor.plant.facts, supply=made.state.supply)).endswith(said)


def test_rush_order_that_is_not_made_is_told_so() -> None:
    change = RushOrder("B-1000", 6, TUE)
    made = choose_runs(with_changes(_facts(), [change, Forbid("B")]))
    said = str(shipped_on(change, facts=made.floor.plant.facts, supply=made.state.supply))
    assert said.endswith("due on Tue 2 Mar is not complete with the runs of this list, which ends on Wed 3 Mar.")


def test_rush_order_waits_for_what_was_late_and_due_before_it() -> None:
    """Seven are late, two are due on Tuesday, and two more with the order: only the eleventh makes it complete."""
    change = RushOrder("A-1000", 2, TUE)
    ordered = with_changes(_facts(skus=(replace(_due("A", 2), late=7), _due("B", 0))), [change])
    supply = np.array([[0, 6, 9, 10, 11, 11, 11, 11], [0] * DAYS])
    assert str(shipped_on(change, facts=ordered, supply=supply)).endswith("it ships complete on Fri 5 Mar.")


def test_resin_that_is_late_is_dried_and_wound_when_it_is_there() -> None:
    (run,) = _runs(_facts(), ItemLate("RESIN-PLA", 2))
    # There at midnight before Wednesday, dry four hours later; the shift begins at 06:00.
    assert run.timing.start_min == 2 * 1440


def test_resin_dries_for_its_hours_after_it_came() -> None:
    lines = (line(makes=("A", "B"), runs_unattended=True),)
    plant = _facts(lines=lines, materials=(replace(facts().materials[0], resin_dry_h=9.0),))
    (run,) = _runs(plant, ItemLate("RESIN-PLA", 2))
    # Midnight before Wednesday is minute 2,520; nine hours later it is 09:00 within the shift.
    assert run.timing.start_min == 2520 + 540


@pytest.mark.parametrize(
    ("change", "made"),
    [
        (Forbid("A"), {}),
        (Pin("B"), {"A": (6,), "B": (2,)}),
        (Resize("A-1000", 9), {"A": (9,)}),
        (Resize("A-1000", 0), {}),
    ],
)
def test_instruction_is_tried_without_being_given(change: Change, made: dict[str, tuple[int, ...]]) -> None:
    assert {run.lot.filament: run.lot.spools for run in _runs(_facts(), change)} == made


def test_instruction_takes_the_place_of_the_one_in_force() -> None:
    ban = Instruction(InstructionKind.FORBID, "A")
    changed = with_changes(_facts(instructions=(ban,)), [Pin("A")])
    assert changed.instructions == (Instruction(InstructionKind.PIN, "A"),)


def test_released_run_is_planned_anew_and_a_started_one_goes_on() -> None:
    hours = [MONDAY, MONDAY + timedelta(hours=2), MONDAY + timedelta(hours=4)]
    started = CommittedRun("R1", "A", "L1", True, hours[0], hours[1], None, {"A-1000": 3})
    released = CommittedRun("R2", "A", "L1", False, hours[1], hours[2], None, {"A-1000": 3})
    plant = _facts(committed=(started, released))
    assert _runs(plant) == []
    # Three of the six come from the run that is under way.
    assert [run.lot.spools for run in _runs(plant, ReplanReleased())] == [(3,)]


@pytest.mark.parametrize(
    ("moved", "avoided", "end"),
    [(3, 6.1, "it pays to cancel them and release the new ones."), (3, 6.0, "they stay."), (0, 9.0, "they stay.")],
)
def test_released_runs_move_only_for_more_than_their_price(moved: int, avoided: float, end: str) -> None:
    said = released_verdict(released=4, moved=moved, avoided=avoided, price=2.0)
    assert str(said) == (
        f"Planned anew, {moved} of 4 released runs would stand otherwise, and the list would avoid {avoided:.2f} "
        f"misses more. The plant's price is 2 for each that moves, {2 * moved:.2f} in all: {end}"
    )


def test_list_says_that_released_runs_stay_and_what_moving_one_must_avoid() -> None:
    released = CommittedRun("R1", "A", "L1", False, MONDAY, MONDAY + timedelta(hours=2), None, {"A-1000": 6})
    plan = make_plan(_facts(committed=(released,), parameters=PlanParameters(moved_run_price=3.5)))
    assert any(
        "The 1 released run stays as released" in str(said) and "price of 3.5 misses" in str(said)
        for said in plan.assumptions
    )


def test_no_change_leaves_the_facts_as_they_are() -> None:
    assert with_changes(_facts(), []) == _facts()


@pytest.mark.parametrize(
    ("change", "words", "pointer"),
    [
        (Pin("X"), "no filament X in the plant", "/filament"),
        (Pin("A", "L9"), "Line L9 is not one that can make A", "/line"),
        (Forbid("X"), "no filament X", "/filament"),
        (Resize("X", 1), "no sku X", "/sku"),
        (Resize("A-1000", -1), "spools must be 0 to 100000, got -1", "/spools"),
        (LineDown("L9", MON), "no line L9", "/line"),
        (LineDown("L1", date(2027, 3, 4)), "covers 2027-03-01 to 2027-03-03", "/day"),
        (RushOrder("A-1000", 0, MON), "spools must be 1 to 100000, got 0", "/spools"),
        (RushOrder("A-1000", 1, date(2027, 2, 28)), "covers 2027-03-01", "/day"),
        (ItemLate("SPOOL", 1), "no item SPOOL among the resins", "/item"),
        (ItemLate("RESIN-PLA", 0), "days must be 1 to 60, got 0", "/days"),
    ],
)
def test_change_that_cannot_be_says_what_and_where(change: Change, words: str, pointer: str) -> None:
    with pytest.raises(WhatIfError, match=words) as caught:
        with_changes(_facts(), [Forbid("B"), change])
    assert caught.value.pointer == f"/changes/1{pointer}"


@pytest.mark.parametrize(
    ("kind", "given", "words"),
    [
        ("line_down", {"line": "L1"}, "line_down needs day"),
        ("rush_order", {}, "rush_order needs sku and spools and day"),
        ("forbid", {"filament": "A", "line": "L1"}, "forbid takes no line"),
    ],
)
def test_change_is_refused_without_its_fields_and_with_others(kind: str, given: dict[str, Any], words: str) -> None:
    with pytest.raises(WhatIfError, match=words):
        change_of(kind, given)


def test_change_is_made_from_its_fields() -> None:
    assert change_of("line_down", {"line": "L1", "day": WED}) == LineDown("L1", WED)
