"""What the list says of each run, reckoned by hand. A kilogram winds in 20 minutes, a start-up takes 10."""

from __future__ import annotations

import math
from typing import Any

import pytest

from stockplan.planner.core.explained import Explanation, explanations
from stockplan.planner.core.facts import Instruction, InstructionKind, SkuFacts
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.planning import Plan, make_plan
from tests.planner.small_facts import calendar, facts, line, sku

DAYS = 8
TUESDAY, NEXT_WEEK = 1, 4


def _due(code: str, units: int, *, on_day: int) -> SkuFacts:
    """Units that are in the books for one day (index), and nothing more to come."""
    due = tuple(units if day >= on_day else 0 for day in range(DAYS))
    return sku(code, due=due, mean=(0.0,) * DAYS, variance=(0.0,) * DAYS, order_up_to=0)


def _explained(*skus: SkuFacts, **fields: Any) -> tuple[Plan, list[Explanation]]:
    codes = tuple(dict.fromkeys(s.filament for s in skus))
    plan = make_plan(facts(codes=codes, skus=skus, **fields))
    return plan, list(explanations(plan))


def test_run_says_what_it_avoids_and_what_a_day_and_dropping_it_cost() -> None:
    plan, (only,) = _explained(_due("A", 6, on_day=TUESDAY))
    # A day later the six miss Tuesday and are there on Wednesday: six misses more, and none waits over a day.
    assert only.day_later == pytest.approx(6)
    assert only.if_dropped == pytest.approx(plan.misses_without)
    assert str(only.sentences[0]) == "Without it, the shelf is expected to run out on Tue 2 Mar of A-1000."
    assert (
        str(only.sentences[1])
        == f"It avoids {plan.misses_without:.2f} misses: {plan.misses_without:.2f} by 6 of A-1000."
    )
    assert str(only.sentences[2]) == (
        f"With all other runs in place the list would miss {plan.misses_without:.2f} more without it, and 6.00 more "
        "with its spools on the shelf a ship day later."
    )


def test_run_says_what_its_time_could_make_instead() -> None:
    # B is worth less than the 2.8 an hour from which a run is listed.
    parameters = PlanParameters(least_worth_per_h=2.8)
    skus = _due("A", 30, on_day=TUESDAY), _due("B", 3, on_day=NEXT_WEEK)
    plan, (only,) = _explained(*skus, parameters=parameters, list_days=5)
    assert [run.ranked.run.lot.filament for run in plan.runs] == ["A"]
    # Three misses on Monday, the list's last day, then a tenth a day of each, 1/e after six days; 10 + 3 x 20 minutes.
    avoided = 3 + 0.3 * sum(math.exp(-day / 6) for day in range(1, 4))
    assert str(only.sentences[3]) == (
        f"Beyond what the list makes, the next best use of its time is 3 spools of B: {avoided / (70 / 60):.2f} misses "
        "avoided an hour."
    )


def test_run_says_so_when_nothing_else_is_wanted() -> None:
    _, (only,) = _explained(_due("A", 6, on_day=TUESDAY))
    assert str(only.sentences[3]) == "Beyond what the list makes, no other filament is wanted of its line then."


def test_run_says_what_the_other_lines_would_take_and_do() -> None:
    lines = (line("L1", makes=("A",)), line("L2", makes=("A",), extruder_kg_h=1.5))
    plan, (only,) = _explained(_due("A", 6, on_day=TUESDAY), lines=lines, calendar=calendar(lines=("L1", "L2")))
    assert plan.runs[0].ranked.run.line == "L1"
    # Half the speed: 10 + 6 x 40 minutes instead of 10 + 6 x 20.
    assert str(only.sentences[4]) == "L1 winds it in 2.2 h; L2 would take 4.2 h and is free then."


def test_run_says_that_no_other_line_can_make_it() -> None:
    _, (only,) = _explained(_due("A", 6, on_day=TUESDAY))
    assert str(only.sentences[4]) == "No other line than L1 can make it."


def test_run_says_what_its_changeover_would_take_elsewhere_in_the_order() -> None:
    skus = _due("A", 6, on_day=TUESDAY), _due("B", 6, on_day=TUESDAY), _due("C", 6, on_day=TUESDAY)
    plan, explained = _explained(*skus, lines=(line(makes=("A", "B", "C"), holds="A"),))
    first = next(run for run in plan.runs if run.ranked.run.timing.start_min == 0)
    assert first.ranked.run.lot.filament == "A"
    # One colour after another takes twelve minutes by the rule of this plant, whichever it is.
    assert str(explained[first.ranked.rank - 1].sentences[5]).startswith("After A the changeover takes 0 min")
    last = max(plan.runs, key=lambda run: run.ranked.run.timing.start_min)
    assert str(explained[last.ranked.rank - 1].sentences[5]).endswith("on this list it would take 12 min.")


@pytest.mark.parametrize(("shelf", "words"), [(20, "and is at its level"), (9, "but is below its level")])
def test_pinned_run_of_what_lasts_says_whether_the_shelf_is_at_its_level(shelf: int, words: str) -> None:
    pin = Instruction(InstructionKind.PIN, "A")
    slow = sku("A", daily=0.1, shelf=shelf, order_up_to=10)
    plan = make_plan(facts(codes=("A",), skus=(slow,), instructions=(pin,)))
    assert f"The shelf is expected to last beyond Wed 10 Mar {words}; " in str(plan.runs[0].reason)
