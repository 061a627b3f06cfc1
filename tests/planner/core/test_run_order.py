"""The order of waiting runs: who makes room for whom, what is refused, and times by hand and as the list has them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from stockplan.planner.core.facts import (
    CommittedRun,
    HopperFacts,
    Instruction,
    InstructionKind,
    PlanFacts,
    StoreItem,
)
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.planning import choose_runs
from stockplan.planner.core.run_order import (
    Move,
    RunOrderError,
    Waiting,
    loosened,
    moved,
    order_of,
)
from stockplan.planner.core.timed_order import timed_anew, timed_order
from tests.planner.small_facts import MONDAY, calendar, facts, filament, line, sku

# The lighter the colour, the longer from a darker one: 12 min, and half a minute for each point of L* upwards.
LIGHTNESS = {"A": 50.0, "B": 20.0, "C": 80.0}


def waiting(
    key: str,
    code: str,
    spools: int,
    *,
    on: str = "L1",
    lines: tuple[str, ...] = ("L1", "L2"),
    pinned: str | None = None,
) -> Waiting:
    return Waiting(key, code, on, {f"{code}-1000": spools}, key.startswith("R"), lines, pinned)


def plant(**fields: object) -> PlanFacts:
    """Line L1 holds A; 10 min of start-up and 20 min a kilogram."""
    return facts(
        codes=("A", "B", "C"),
        filaments=tuple(filament(code, lab_l=light) for code, light in LIGHTNESS.items()),
        lines=(line("L1", makes=("A", "B", "C"), holds="A"), line("L2", makes=("A", "B"), holds="A")),
        calendar=calendar(lines=("L1", "L2")),
        **fields,
    )


FIVE = [waiting("R1", "A", 3), waiting("R2", "B", 6), *(waiting(f"rank-{n}", "C", 3) for n in (1, 2, 3))]


def test_no_move_leaves_the_present_order() -> None:
    assert moved(FIVE, [], started=()) == order_of(FIVE) == {"L1": ("R1", "R2", "rank-1", "rank-2", "rank-3")}


def test_others_make_room_in_their_order() -> None:
    assert moved(FIVE, [Move("rank-3", "L1", 3)], started=())["L1"] == ("R1", "R2", "rank-3", "rank-1", "rank-2")


def test_two_runs_change_places() -> None:
    swapped = moved(FIVE, [Move("R1", "L1", 2), Move("R2", "L1", 1)], started=())
    assert swapped["L1"] == ("R2", "R1", "rank-1", "rank-2", "rank-3")


def test_run_goes_to_another_line() -> None:
    order = moved(FIVE, [Move("R1", "L2", 1)], started=())
    assert order == {"L1": ("R2", "rank-1", "rank-2", "rank-3"), "L2": ("R1",)}


@pytest.mark.parametrize(
    ("moves", "words", "pointer"),
    [
        ([Move("R1", "L1", 0)], "L1 then has places 1 to 5, got 0", "/moves/0/place"),
        ([Move("R1", "L1", 6)], "L1 then has places 1 to 5, got 6", "/moves/0/place"),
        ([Move("R1", "L2", 2)], "L2 then has place 1 alone, got 2", "/moves/0/place"),
        ([Move("R1", "L1", 2), Move("R2", "L1", 2)], "Two runs are given place 2 on L1", "/moves/1/place"),
        ([Move("R1", "L1", 1), Move("R1", "L1", 2)], r"R1 \(A\) is moved twice", "/moves/1"),
        ([Move("R9", "L1", 1)], "No run R9 waits", "/moves/0"),
        ([Move("R0", "L1", 1)], "Run R0 has started", "/moves/0/place"),
        ([Move("R1", "L3", 1)], "L3 cannot make A; L1 and L2 can", "/moves/0/line"),
        ([Move("rank-1", "L1", 2)], "C is not released: it stands behind the released runs of L1", "/moves/0/place"),
        ([Move("R2", "L1", 4)], "C is not released", "/moves/0/place"),
    ],
)
def test_move_that_cannot_be_is_named(moves: list[Move], words: str, pointer: str) -> None:
    with pytest.raises(RunOrderError, match=words) as refused:
        moved(FIVE, moves, started=("R0",))
    assert refused.value.pointer == pointer


def test_pinned_filament_does_not_leave_its_line() -> None:
    with pytest.raises(RunOrderError, match="A is pinned to L1; withdraw") as refused:
        moved([waiting("rank-1", "A", 3, pinned="L1")], [Move("rank-1", "L2", 1)], started=())
    assert refused.value.pointer == "/moves/0/line"


def test_released_runs_before_the_first_change_keep_their_plans() -> None:
    runs = [waiting(f"R{n}", "A", 3) for n in (1, 2, 3)] + [waiting("R4", "A", 3, on="L2")]
    assert loosened(runs, moved(runs, [], started=())) == set()
    assert loosened(runs, moved(runs, [Move("R3", "L1", 2)], started=())) == {"R2", "R3"}
    assert loosened(runs, moved(runs, [Move("R3", "L2", 2)], started=())) == {"R3"}


def test_runs_are_timed_as_by_hand() -> None:
    runs = [waiting("rank-1", "A", 3), waiting("rank-2", "B", 6), waiting("rank-3", "C", 3)]
    timed = timed_order(plant(), runs, order_of(runs), loose=())
    spans = {key: (run.timing.start_min, run.timing.end_min) for key, run in timed.runs.items()}
    # A: 10 + 60. B: 12 from the lighter A, 10 + 120. C: 12 + 60 / 2 from the darker B, 10 + 60.
    assert spans == {"rank-1": (0, 70), "rank-2": (70, 212), "rank-3": (212, 324)}
    assert (timed.changeover_min, timed.purge_kg) == (54, pytest.approx(54 / 60 * 6))
    other = timed_order(plant(), runs, {"L1": ("rank-1", "rank-3", "rank-2")}, loose=())
    # C from A: 12 + 15; B from C: 12.
    assert other.changeover_min == 39
    assert other.runs["rank-2"].timing.end_min == 70 + 27 + 70 + 12 + 130


def test_released_runs_are_timed_anew_where_they_are_loose() -> None:
    hour = timedelta(hours=1)
    committed = (
        CommittedRun("R1", "A", "L1", False, MONDAY, MONDAY + 2 * hour, None, {"A-1000": 3}),
        CommittedRun("R2", "B", "L1", False, MONDAY + 2 * hour, MONDAY + 5 * hour, None, {"B-1000": 6}),
    )
    runs = [waiting("R1", "A", 3), waiting("R2", "B", 6), waiting("rank-1", "C", 3)]
    given_facts = plant(committed=committed)
    before = timed_order(given_facts, runs, order_of(runs), loose=())
    assert before.runs.keys() == {"rank-1"}
    assert before.runs["rank-1"].timing.start_min == 300
    order = moved(runs, [Move("R2", "L1", 1)], started=())
    after = timed_order(given_facts, runs, order, loose=loosened(runs, order))
    # B from A: 12 + 10 + 120; A from the darker B: 12 + 15, 10 + 60; C from A: 12 + 15.
    starts = {key: run.timing.start_min for key, run in after.runs.items()}
    assert starts == {"R2": 0, "R1": 142, "rank-1": 239}
    assert (before.changeover_min, after.changeover_min) == (12 + 42, 12 + 27 + 27)


def test_resin_that_dries_for_a_run_already_stays_in_its_hopper() -> None:
    hour = timedelta(hours=1)
    since = MONDAY - 3 * hour
    committed = tuple(
        CommittedRun(code, code_of, "L1", False, MONDAY + at * hour, MONDAY + (at + 2) * hour, "H1", {}, since)
        for code, code_of, at in (("R1", "A", 1), ("R2", "B", 3))
    )
    runs = [waiting("R1", "A", 3), waiting("R2", "B", 3)]
    hopper = HopperFacts("H1", 80.0, False, 10, None, None)
    timed = timed_order(plant(committed=committed, hoppers=(hopper,)), runs, {"L1": ("R2", "R1")}, loose={"R1", "R2"})
    # Dry after 4 h, an hour from now; what dries is not loaded anew.
    assert timed.runs["R2"].timing.start_min == 60
    assert {run.dries_from_min for run in timed.runs.values()} == {-180}


def test_released_run_without_working_time_is_named() -> None:
    late = CommittedRun("R1", "A", "L1", False, MONDAY, MONDAY + timedelta(hours=2), None, {"A-1000": 500})
    runs = [waiting("R1", "A", 500), waiting("R2", "B", 6)]
    second = CommittedRun("R2", "B", "L1", False, MONDAY, MONDAY + timedelta(hours=9), None, {"B-1000": 6})
    with pytest.raises(RunOrderError, match=r"R2 \(B\) would find no working time by 2027-03-10"):
        timed_order(plant(committed=(late, second)), runs, order_of(runs), loose={"R1", "R2"})


def test_released_run_may_slip_past_the_last_day_of_the_list_and_misses_count_as_before() -> None:
    late = CommittedRun("R1", "A", "L1", False, MONDAY, MONDAY + timedelta(hours=2), None, {"A-1000": 150})
    second = CommittedRun("R2", "B", "L1", False, MONDAY, MONDAY + timedelta(hours=9), None, {"B-1000": 6})
    runs = [waiting("R1", "A", 150), waiting("R2", "B", 6)]
    given_facts = plant(committed=(late, second), parameters=PlanParameters(look_ahead_days=1e-3))
    timed = timed_order(given_facts, runs, order_of(runs), loose={"R1", "R2"})
    # A takes 10 + 3000 min, three days of 960 min and 130 min of Thursday, the day after the list's last one.
    assert timed.runs["R2"].timing.start_min == 3 * 24 * 60 + 130
    # Nothing of either is on the shelf before the list ends, and no later day counts: as if neither were made.
    nothing = timed_order(replace(given_facts, committed=()), [], {}, loose=())
    assert timed.misses == pytest.approx(nothing.misses)


KEYS = ("rank-1", "rank-2", "rank-3", "rank-4")
CODES = ("A", "B", "C", "A")


@given(order=st.permutations(KEYS), cut=st.integers(0, 4), spools=st.tuples(*[st.integers(1, 60)] * 4))
@hypothesis_settings(max_examples=40, deadline=None)
def test_every_order_is_timed_as_a_list_with_these_places_times_it(
    order: list[str], cut: int, spools: tuple[int, ...]
) -> None:
    able = {"A": ("L1", "L2"), "B": ("L1", "L2"), "C": ("L1",)}
    runs = [waiting(key, code, n, lines=able[code]) for key, code, n in zip(KEYS, CODES, spools, strict=True)]
    known = {run.key: run for run in runs}
    lines = {"L1": tuple(order[:cut]), "L2": tuple(key for key in order[cut:] if known[key].filament != "C")}
    hoppers = tuple(HopperFacts(code, 200.0, False, 10, None, None) for code in ("H1", "H2"))
    # Without demand and levels the list makes nothing but what is pinned.
    idle = plant(hoppers=hoppers, skus=tuple(sku(code, daily=0.0, order_up_to=0) for code in LIGHTNESS))
    pins = tuple(
        Instruction(InstructionKind.PIN, known[key].filament, on, place=place, sizes=tuple(known[key].sizes.items()))
        for on, keys in lines.items()
        for place, key in enumerate(keys, start=1)
    )
    timed = timed_order(idle, runs, lines, loose=()).runs.values()
    listed = choose_runs(replace(idle, instructions=pins)).runs
    assert sorted((r.line, r.timing.start_min, r.timing.end_min, r.lot.filament) for r in timed) == sorted(
        (r.line, r.timing.start_min, r.timing.end_min, r.lot.filament) for r in listed
    )


def test_runs_that_are_pinned_to_places_stand_first_and_keep_their_sizes() -> None:
    pins = tuple(
        Instruction(InstructionKind.PIN, code, "L1", place=place, sizes=((f"{code}-1000", spools),))
        for place, (code, spools) in enumerate([("B", 2), ("A", 3), ("B", 4)], start=1)
    )
    made = choose_runs(plant(instructions=pins, skus=tuple(sku(code, daily=6.0, order_up_to=40) for code in LIGHTNESS)))
    on_l1 = sorted((run for run in made.runs if run.line == "L1"), key=lambda run: run.timing.start_min)
    first = [(run.lot.filament, run.lot.spools, run.lot.is_pinned) for run in on_l1[:3]]
    assert first == [("B", (2,), True), ("A", (3,), True), ("B", (4,), True)]


def test_run_that_is_pinned_to_a_place_is_cut_to_the_store() -> None:
    part = StoreItem("SPOOL", "empty spool", "pieces", on_hand=5, lead_time_days=1)
    pins = tuple(
        Instruction(InstructionKind.PIN, code, "L1", place=place, sizes=((f"{code}-1000", 4),))
        for place, code in enumerate("BA", start=1)
    )
    made = choose_runs(plant(instructions=pins, store=(part,)))
    assert [(run.lot.filament, run.lot.spools) for run in made.runs] == [("B", (4,)), ("A", (1,))]


def three_released(**fields: object) -> tuple[PlanFacts, list[Waiting]]:
    """A and B this morning on L1 with resin that is dry by now, and A on L2 for Tuesday."""
    hour, hopper = timedelta(hours=1), "H1" if "hoppers" in fields else None
    plans = (("R1", "A", "L1", 0, 3), ("R2", "B", "L1", 2, 6), ("R3", "A", "L2", 24, 3))
    committed = tuple(
        CommittedRun(
            code, what, on, False, MONDAY + at * hour, MONDAY + (at + 3) * hour, hopper,
            {f"{what}-1000": spools}, MONDAY + (at - 4) * hour if at > 2 else MONDAY - 4 * hour,
        )
        for code, what, on, at, spools in plans
    )  # fmt: skip
    runs = [waiting(code, what, spools, on=on) for code, what, on, _, spools in plans]
    return plant(committed=committed, **fields), runs


def test_released_runs_of_other_lines_give_their_hopper_where_a_moved_run_needs_it() -> None:
    given_facts, runs = three_released(hoppers=(HopperFacts("H1", 80.0, False, 10, None, None),))
    order = moved(runs, [Move("R2", "L1", 1)], started=())
    # The one hopper is kept for R3 until that has run on Tuesday.
    kept = timed_order(given_facts, runs, order, loose={"R1", "R2"})
    assert kept.runs["R2"].timing.start_min >= 27 * 60
    timed = timed_anew(given_facts, runs, order)
    assert timed.loose == {"R1", "R2", "R3"}
    assert timed.runs["R2"].timing.start_min == 0
    assert timed.misses < kept.misses


def test_released_runs_of_other_lines_keep_their_plans_where_nothing_is_shared() -> None:
    given_facts, runs = three_released(parameters=PlanParameters(moved_run_price=100.0))
    timed = timed_anew(given_facts, runs, moved(runs, [Move("R2", "L1", 1)], started=()))
    # Alone R3 would be timed for this morning, which avoids misses: not as many as the price of moving it.
    assert timed.loose == {"R1", "R2"}
    assert timed_anew(given_facts, runs, order_of(runs)).loose == set()
