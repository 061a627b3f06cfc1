"""The list on plants small enough to plan by hand. A kilogram winds in 20 minutes, a start-up takes 10."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.rules.calendar import CrewWindow
from stockplan.planner.core.facts import CommittedRun, Instruction, InstructionKind, Pipeline, SkuFacts, StoreItem
from stockplan.planner.core.left_out import Cause
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.planning import ListedRun, Plan, make_plan
from tests.planner.small_facts import MONDAY, calendar, facts, filament, line, material, sku

DAYS = 8
AT_ONCE = PlanParameters(min_run_min=0.0, least_lot_share=0.0, least_worth_per_h=0.0)


def _ordered(code: str, units: int, *, on_day: int = 1, **fields: object) -> SkuFacts:
    """An SKU whose whole demand is in the books: `units` due on one day (index), and made to order."""
    due = tuple(units if day >= on_day else 0 for day in range(DAYS))
    none = (0.0,) * DAYS
    return sku(code, **({"due": due, "mean": none, "variance": none, "order_up_to": 0} | fields))  # type: ignore[arg-type]


def _runs_of(plan: Plan, code: str) -> list[ListedRun]:
    return [run for run in plan.runs if run.ranked.run.lot.filament == code]


def _cause(plan: Plan, code: str) -> Cause:
    return {left.filament: left.cause for left in plan.left_out}[code]


def test_plan_of_one_order_is_the_hand_made_one() -> None:
    plan = make_plan(facts(codes=("A",), skus=(_ordered("A", 6),)))
    run = plan.runs[0].ranked.run
    assert len(plan.runs) == 1
    assert (run.lot.spools, run.timing.start_min, run.timing.end_min) == ((6,), 0, 10 + 6 * 20)
    # Wound on Monday, dried overnight, shelved on Tuesday at 10:00 for that day's parcels.
    assert plan.plant.clock.instant(run.shelf_min) == MONDAY + timedelta(hours=28)
    assert run.shelf_day == 1


def test_plan_totals_of_one_order_are_counted_by_hand() -> None:
    plan = make_plan(facts(codes=("A",), skus=(_ordered("A", 6),)))
    # 6 miss on Tuesday and wait on: a tenth of a miss a day, full on Wednesday, then discounted by e^(-1/6) a day.
    waiting = 1 + sum(math.exp(-day / 6) for day in range(1, 6))
    assert plan.misses_without == pytest.approx(6 + 0.1 * 6 * waiting)
    assert plan.misses_with == pytest.approx(0, abs=1e-12)


def test_worth_per_hour_is_misses_avoided_over_line_hours() -> None:
    plan = make_plan(facts(codes=("A",), skus=(_ordered("A", 6),)))
    ranked = plan.runs[0].ranked
    assert ranked.worth_per_hour == pytest.approx(plan.misses_without / (130 / 60))


def test_what_is_due_first_is_made_first() -> None:
    # A is due next week, B tomorrow; the line has time for both.
    plan = make_plan(facts(skus=(_ordered("A", 20, on_day=5), _ordered("B", 20, on_day=1))))
    assert _runs_of(plan, "B")[0].ranked.run.timing.start_min < _runs_of(plan, "A")[0].ranked.run.timing.start_min


def test_changeover_from_what_the_line_holds_is_timed_and_charged() -> None:
    plan = make_plan(facts(codes=("A", "B"), skus=(_ordered("B", 6),), lines=(line(makes=("A", "B"), holds="A"),)))
    timing = plan.runs[0].ranked.run.timing
    assert (timing.changeover_from, timing.changeover_min, timing.end_min) == ("A", 12, 12 + 130)
    assert plan.runs[0].ranked.worth_per_hour == pytest.approx(plan.misses_without / (142 / 60))


def test_materials_are_kept_together_on_a_line() -> None:
    codes = ("A", "B", "C", "D")
    grades = {"A": "PLA", "B": "PETG", "C": "PLA", "D": "PETG"}
    plan = make_plan(
        facts(
            codes=codes,
            skus=tuple(_ordered(code, 5) for code in codes),
            filaments=tuple(filament(code, material_code=grades[code]) for code in codes),
            materials=(material("PLA"), material("PETG")),
        )
    )
    order = [r.ranked.run.lot.filament for r in sorted(plan.runs, key=lambda r: r.ranked.run.timing.start_min)]
    assert [grades[code] for code in order] in (["PLA", "PLA", "PETG", "PETG"], ["PETG", "PETG", "PLA", "PLA"])


def test_changeover_waits_for_the_only_crew() -> None:
    crew = tuple(
        CrewWindow(weekday, calendar().shifts["L1"][0].start, calendar().shifts["L1"][0].end, 1) for weekday in range(5)
    )
    plan = make_plan(
        facts(
            codes=("A", "B", "C"),
            skus=(_ordered("B", 6), _ordered("C", 6)),
            lines=(line("L1", makes=("B",), holds="A"), line("L2", makes=("C",), holds="A")),
            calendar=calendar(lines=("L1", "L2"), crews=crew),
        )
    )
    assert sorted(run.ranked.run.timing.start_min for run in plan.runs) == [0, 12]


def test_committed_run_occupies_its_line_and_its_spools_are_supply() -> None:
    committed = CommittedRun("R1", "A", "L1", False, MONDAY, MONDAY + timedelta(minutes=300), None, {"A-1000": 6})
    plan = make_plan(facts(skus=(_ordered("A", 6), _ordered("B", 6)), committed=(committed,)))
    assert _cause(plan, "A") == Cause.ENOUGH
    assert _runs_of(plan, "B")[0].ranked.run.timing.start_min == 300


def test_line_that_is_still_running_is_free_when_its_run_ends() -> None:
    began = MONDAY - timedelta(hours=2)
    running = CommittedRun("R1", "A", "L1", True, began, MONDAY + timedelta(minutes=90), None, {"A-1000": 9})
    plan = make_plan(facts(skus=(_ordered("A", 6), _ordered("B", 6)), committed=(running,)))
    timing = _runs_of(plan, "B")[0].ranked.run.timing
    assert (timing.start_min, timing.changeover_from) == (90, "A")


def test_released_run_that_should_have_begun_is_expected_from_now_on() -> None:
    slipped = CommittedRun(
        "R1", "A", "L1", False, MONDAY - timedelta(days=3), MONDAY - timedelta(days=3, hours=-2), None, {}
    )
    plan = make_plan(facts(skus=(_ordered("A", 0), _ordered("B", 6)), committed=(slipped,)))
    assert _runs_of(plan, "B")[0].ranked.run.timing.start_min == 120


def test_pipeline_counts_from_the_day_on_which_it_is_shelved() -> None:
    coming = Pipeline("A-1000", 6, MONDAY + timedelta(hours=28))
    plan = make_plan(facts(codes=("A",), skus=(_ordered("A", 6),), pipeline=(coming,)))
    assert plan.misses_without == pytest.approx(0, abs=1e-12)
    assert plan.runs == ()


def test_forbidden_filament_is_left_out_and_said_so() -> None:
    ban = Instruction(InstructionKind.FORBID, "A")
    plan = make_plan(facts(skus=(_ordered("A", 6), _ordered("B", 6)), instructions=(ban,)))
    assert (_cause(plan, "A"), len(_runs_of(plan, "B"))) == (Cause.FORBIDDEN, 1)


def test_pinned_filament_is_made_first_although_nothing_is_wanted() -> None:
    pin = Instruction(InstructionKind.PIN, "A")
    plan = make_plan(facts(skus=(_ordered("A", 0), _ordered("B", 6)), instructions=(pin,)))
    run = _runs_of(plan, "A")[0].ranked.run
    assert (run.lot.is_pinned, run.timing.start_min) == (True, 0)
    # The shortest run of 30 minutes: two spools of 20 minutes.
    assert run.lot.spools == (2,)


def test_pin_names_its_line() -> None:
    pin = Instruction(InstructionKind.PIN, "A", line="L2")
    lines = (line("L1", makes=("A", "B")), line("L2", makes=("A", "B"), holds="B"))
    plan = make_plan(
        facts(
            skus=(_ordered("A", 6), _ordered("B", 6)),
            lines=lines,
            calendar=calendar(lines=("L1", "L2")),
            instructions=(pin,),
        )
    )
    assert _runs_of(plan, "A")[0].ranked.run.line == "L2"


@pytest.mark.parametrize("spools", [3, 17])
def test_size_by_hand_is_made_exactly_and_once(spools: int) -> None:
    exact = Instruction(InstructionKind.RESIZE, "A", sku="A-1000", spools=spools)
    plan = make_plan(facts(codes=("A",), skus=(_ordered("A", 6),), instructions=(exact,)))
    assert [run.ranked.run.lot.spools for run in plan.runs] == [(spools,)]


def test_size_of_none_by_hand_is_not_made() -> None:
    none = Instruction(InstructionKind.RESIZE, "A", sku="A-1000", spools=0)
    assert make_plan(facts(codes=("A",), skus=(_ordered("A", 6),), instructions=(none,))).runs == ()


def test_late_order_stays_on_the_list_when_better_runs_fill_every_day() -> None:
    # B alone would keep the line busy for weeks; the late spool of A comes after the last day rather than never.
    busy = sku("B", daily=100.0, order_up_to=2000)
    plan = make_plan(facts(skus=(_ordered("A", 0, late=1), busy), list_days=1))
    assert [run.ranked.run.lot.spools for run in _runs_of(plan, "A")] == [(1,)]


def test_lot_below_the_shortest_run_waits_and_says_so() -> None:
    # 3 of 4 are there and one sells in two weeks; one spool winds in 20 minutes and a run has at least 30.
    slow = facts(codes=("A",), skus=(sku("A", daily=0.1, shelf=3, order_up_to=4),))
    plan = make_plan(slow)
    assert plan.runs == ()
    assert "1 spool lacks to its level: too short a run as yet" in str(plan.left_out[0].sentence)
    assert make_plan(replace(slow, parameters=AT_ONCE)).runs[0].ranked.run.lot.spools == (1,)


def test_short_lot_is_made_when_its_size_is_likely_to_run_out() -> None:
    # None is there, and one a day is wanted: the only spool that its level asks for does not wait.
    plan = make_plan(facts(codes=("A",), skus=(sku("A", daily=1.0, shelf=0, order_up_to=1),), list_days=1))
    assert [run.ranked.run.lot.spools for run in plan.runs][:1] == [(1,)]


def test_filament_without_a_speed_has_no_line() -> None:
    plan = make_plan(facts(skus=(_ordered("A", 6), _ordered("B", 6)), lines=(line(makes=("B",)),)))
    assert _cause(plan, "A") == Cause.NO_LINE


def test_stock_that_lasts_is_enough() -> None:
    plan = make_plan(facts(codes=("A",), skus=(sku("A", daily=1.0, shelf=50, order_up_to=10),)))
    assert str(plan.left_out[0].sentence) == "Enough beyond Wed 10 Mar."


def test_run_without_its_resin_is_blocked_with_what_to_buy_and_when() -> None:
    resin = StoreItem("RESIN-PLA", "PLA resin", "kg", on_hand=0.0, lead_time_days=3)
    plan = make_plan(facts(codes=("A",), skus=(_ordered("A", 6, on_day=5),), store=(resin,)))
    missing = plan.blocked[0].missing[0]
    assert plan.runs == ()
    assert (missing.item, missing.quantity) == ("RESIN-PLA", pytest.approx(6.0))
    # Due on Monday the 8th, three days of delivery: to be bought by Friday the 5th.
    assert missing.buy_by.isoformat() == "2027-03-05"


def test_run_is_cut_to_the_empty_spools_in_the_store() -> None:
    part = StoreItem("SPOOL", "empty spool", "pieces", on_hand=4, lead_time_days=1)
    plan = make_plan(facts(codes=("A",), skus=(_ordered("A", 6),), store=(part,)))
    assert plan.runs[0].ranked.run.lot.spools == (4,)
    assert "The store allows no more: SPOOL." in str(plan.runs[0].reason)


@pytest.mark.parametrize(("bags", "made"), [(9, (3, 6)), (6, (2, 4)), (1, (0, 1))])
def test_sizes_share_what_is_left_of_the_desiccant(bags: int, made: tuple[int, int]) -> None:
    small = {"net_g": 500, "target_kg": 0.5}
    skus = [_ordered("A", 6, packed_with=("BAG",)), _ordered("A", 3, size="0500", packed_with=("BAG",), **small)]
    bag = StoreItem("BAG", "desiccant bag", "pieces", on_hand=bags, lead_time_days=1)
    plan = make_plan(facts(codes=("A",), skus=tuple(skus), store=(bag,), parameters=AT_ONCE))
    assert [run.ranked.run.lot.spools for run in plan.runs] == [made]


def test_wound_spools_are_packed_before_a_run_gets_boxes() -> None:
    box = StoreItem("BOX", "box", "pieces", on_hand=9, lead_time_days=1)
    coming = Pipeline("A-1000", 5, MONDAY + timedelta(hours=28))
    wanted = _ordered("A", 15, packed_with=("BOX",))
    plan = make_plan(facts(codes=("A",), skus=(wanted,), store=(box,), pipeline=(coming,)))
    assert [run.ranked.run.lot.spools for run in plan.runs] == [(4,)]


def test_released_runs_that_take_more_spools_than_there_are_leave_none() -> None:
    part = StoreItem("SPOOL", "empty spool", "pieces", on_hand=4, lead_time_days=1)
    released = CommittedRun("R1", "A", "L1", False, MONDAY, MONDAY + timedelta(hours=3), None, {"A-1000": 8})
    plan = make_plan(facts(skus=(_ordered("A", 8), _ordered("B", 6)), store=(part,), committed=(released,)))
    assert (plan.runs, [run.lot.filament for run in plan.blocked]) == ((), ["B"])


def test_committed_run_takes_its_material_first() -> None:
    resin = StoreItem("RESIN-PLA", "PLA resin", "kg", on_hand=10.0, lead_time_days=3)
    committed = CommittedRun("R1", "A", "L1", False, MONDAY, MONDAY + timedelta(hours=3), None, {"A-1000": 8})
    plan = make_plan(facts(skus=(_ordered("A", 8), _ordered("B", 6)), store=(resin,), committed=(committed,)))
    # 2 kg are left after the committed run; the changeover purges 12 minutes at 6 kg/h = 1.2 kg, so none is wound.
    assert _runs_of(plan, "B") == []
    assert [run.lot.filament for run in plan.blocked] == ["B"]


def test_plan_says_how_many_hours_the_lines_lack() -> None:
    plan = make_plan(facts(codes=("A",), skus=(sku("A", daily=60.0, order_up_to=500),)))
    # 60 kg a day need 20 h, one run of 10 minutes start-up every 25 days, and the line has 16 h: 4 h a day, 20 a week.
    assert plan.outlook.hours_short_per_week == pytest.approx(20, abs=0.2)
    assert "cannot keep the promise: 20.0 line hours a week are missing" in " ".join(map(str, plan.assumptions))
