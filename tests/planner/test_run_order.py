"""Runs in another order: tried with its price, set for released runs and for those of the list, refused when stale."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta

import pytest

from inventory.models import Filament, Line, LineSpeed, OrderLine, PromiseChange, Run, RunOutputPlan, RunPlan, Shift
from inventory.selectors.check import check_books
from inventory.selectors.run_rows import run_rows
from inventory.services.runs import RunStateError, cancel_run, release_run, start_run
from stockplan.planner.core.run_order import Move, RunOrderError
from stockplan.planner.models import MakeList, PlannerInstruction
from stockplan.planner.selectors.line_orders import line_orders
from stockplan.planner.selectors.make_lists import make_list_detail
from stockplan.planner.services import run_order
from stockplan.planner.services.instructions import InstructionError, forbid_filament, pin_filament
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.release import release_list, release_listed_run
from stockplan.planner.services.run_order import OrderMovedError, set_order, try_order
from tests.inventory.builders import TinyPlant, clock, local
from tests.planner.conftest import order

BLACK, NATURAL = "PLA-BLACK-1.75", "PETG-NATURAL-1.75"
NOW = "2027-03-01 10:00"


def released(filament: str, spools: Mapping[str, int], start: str, end: str) -> Run:
    return release_run(
        filament_code=filament,
        line_code="L1",
        spools=spools,
        planned_start=local(start),
        planned_end=local(end),
        hopper_code="H1",
        drying_from=local(start) - timedelta(hours=4),
        clock=clock("2027-03-01 09:00"),
    )


@pytest.fixture
def two_runs(plant: TinyPlant) -> tuple[Run, Run]:
    """Natural this afternoon for an order that is due tomorrow, and behind it a long run of black for Thursday."""
    order("NAT", [("PETG-NAT-1000", 5)], at="2027-03-01 08:00", wanted="2027-03-02")
    order("BLA", [("PLA-BLACK-1000", 6)], at="2027-03-01 08:00", wanted="2027-03-04")
    natural = released(NATURAL, {"PETG-NAT-1000": 5}, "2027-03-01 14:00", "2027-03-01 15:00")
    return natural, released(BLACK, {"PLA-BLACK-1000": 90}, "2027-03-01 15:00", "2027-03-02 12:00")


@pytest.fixture
def listed(plant: TinyPlant) -> MakeList:
    """A list of two runs on one line, none released."""
    order("NAT", [("PETG-NAT-1000", 5)], at="2027-03-01 08:00", wanted="2027-03-03")
    order("BLA", [("PLA-BLACK-1000", 6)], at="2027-03-01 08:00", wanted="2027-03-04")
    return new_list(NOW)


def new_list(at: str) -> MakeList:
    return compute_make_list(as_of=local(at), now=local(at), days=5)


def second_line() -> None:
    line = Line.objects.create(code="L2", name="Line two", extruder_kg_h="12")
    LineSpeed.objects.create(line=line, filament=Filament.objects.get(code=BLACK), speed_m_min="55")
    hours = Shift.objects.filter(line__code="L1").values_list("weekday", "start", "end")
    Shift.objects.bulk_create(Shift(line=line, weekday=day, start=start, end=end) for day, start, end in hours)


def written() -> tuple[object, ...]:
    """Everything that setting an order could write."""
    return tuple(
        list(model.objects.order_by("pk").values())
        for model in (Run, RunPlan, RunOutputPlan, OrderLine, PromiseChange, PlannerInstruction)
    )


def turned(first: Run, second: Run) -> list[Move]:
    return [Move(second.code, "L1", 1), Move(first.code, "L1", 2)]


def planned(code: str) -> tuple[datetime, datetime]:
    return Run.objects.values_list("planned_start", "planned_end").get(code=code)


def test_order_is_tried_without_a_trace(two_runs: tuple[Run, Run]) -> None:
    before = written()
    tried = try_order(turned(*two_runs), now=local(NOW))
    assert [run.key for run in tried.runs] == [two_runs[1].code, two_runs[0].code]
    assert written() == before


def test_tried_order_names_the_promise_that_would_become_late(two_runs: tuple[Run, Run]) -> None:
    tried = try_order(turned(*two_runs), now=local(NOW))
    late = [(moved.reference, moved.sku, moved.day_before, moved.day) for moved in tried.promises if moved.becomes_late]
    # Black takes until Tuesday; natural is then shelved on Wednesday morning.
    assert late == [("NAT", "PETG-NAT-1000", date(2027, 3, 2), date(2027, 3, 3))]
    assert (tried.becoming_late, tried.is_set) == (1, False)
    assert tried.price > 0


def test_set_order_does_what_was_tried(two_runs: tuple[Run, Run]) -> None:
    tried = try_order(turned(*two_runs), now=local(NOW))
    done = set_order(turned(*two_runs), seen=tried.seen, clock=clock(NOW))
    assert (done.runs, done.promises, done.price) == (tried.runs, tried.promises, tried.price)
    assert done.is_set
    assert [planned(run.key) for run in done.runs] == [(run.start, run.end) for run in done.runs]
    changes = PromiseChange.objects.filter(cause=run_order.CAUSE).values_list("old_day", "new_day")
    assert list(changes) == [(date(2027, 3, 2), date(2027, 3, 3))]
    assert check_books() == []


def test_set_order_is_timed_by_the_floor_and_noted(two_runs: tuple[Run, Run]) -> None:
    natural, black = two_runs
    set_order(turned(*two_runs), seen=line_orders().seen, clock=clock(NOW))
    # At 10:00 PETG went into the only hopper: it is cleaned for 20 min, then PLA dries for 4 h.
    assert planned(black.code)[0] == local("2027-03-01 14:20")
    # Behind a darker filament of another material natural needs its changeover; both masses and minutes are kept.
    row = Run.objects.get(code=natural.code)
    assert row.changeover_from.code == BLACK
    assert row.changeover_min > 0
    assert row.planned_purge_kg > 0
    assert row.planned_start >= planned(black.code)[1]
    notes = RunPlan.objects.filter(run=natural).order_by("id")
    assert [note.changeover_min for note in notes] == [0, row.changeover_min]


def test_plan_from_before_is_read_as_of_then(two_runs: tuple[Run, Run]) -> None:
    natural, _ = two_runs
    before = {row.code: row for row in run_rows(limit=9)}
    set_order(turned(*two_runs), seen=line_orders().seen, clock=clock(NOW))
    then = {row.code: row for row in run_rows(as_of=local("2027-03-01 09:59"), limit=9)}
    now = {row.code: row for row in run_rows(as_of=local("2027-03-01 10:01"), limit=9)}
    assert then[natural.code].planned_start == before[natural.code].planned_start != now[natural.code].planned_start
    assert (then[natural.code].changeover_from_code, now[natural.code].changeover_from_code) == (None, BLACK)


def test_present_order_changes_nothing(two_runs: tuple[Run, Run]) -> None:
    before = written()
    moves = [Move(run.code, "L1", place) for place, run in enumerate(two_runs, start=1)]
    done = set_order(moves, seen=line_orders().seen, clock=clock(NOW))
    assert (done.runs, done.promises, done.price) == ((), (), 0.0)
    assert done.changeover_min_before == done.changeover_min_after
    assert written() == before


def test_present_order_of_a_list_pins_nothing(listed: MakeList) -> None:
    moves = [Move(run.key, run.line_code, run.place or 0) for run in line_orders().runs]
    assert len(moves) == 2
    assert set_order(moves, seen=line_orders().seen, clock=clock("2027-03-01 10:05")).runs == ()
    assert not PlannerInstruction.objects.exists()


def test_next_list_has_listed_runs_in_the_order_that_was_set(listed: MakeList) -> None:
    first, second = line_orders().runs
    set_order([Move(second.key, "L1", 1)], seen=line_orders().seen, clock=clock("2027-03-01 10:05"))
    after = line_orders_of(new_list("2027-03-01 10:06"))
    assert after == [(second.filament_code, second.sizes, True), (first.filament_code, first.sizes, True)]


def line_orders_of(made: MakeList) -> list[tuple[str, dict[str, int], bool]]:
    runs = sorted(make_list_detail(made.id).runs, key=lambda run: run.place_on_line or 0)
    return [(run.filament_code, {size.sku_code: size.spools for size in run.sizes}, run.is_pinned) for run in runs]


@pytest.mark.clean_error_of(
    "plannerinstruction_one_live_run_per_place", "plannerinstruction_place_is_of_a_pin_on_a_line"
)
@pytest.mark.parametrize(("places", "words"), [((0,), "got 0"), ((1, 1), "Two runs are given place 1")])
def test_place_that_is_none_or_taken_is_refused_by_the_service(
    listed: MakeList, places: tuple[int, ...], words: str
) -> None:
    moves = [Move(run.key, "L1", place) for run, place in zip(line_orders().runs, places, strict=False)]
    with pytest.raises(RunOrderError, match=words):
        set_order(moves, seen=line_orders().seen, clock=clock("2027-03-01 10:05"))
    assert not PlannerInstruction.objects.exists()


def test_released_run_carries_out_its_pin_and_leaves_the_other(listed: MakeList) -> None:
    second = line_orders().runs[1]
    set_order([Move(second.key, "L1", 1)], seen=line_orders().seen, clock=clock("2027-03-01 10:05"))
    made = new_list("2027-03-01 10:06")
    release_listed_run(listed_run_id=made.runs.get(place_on_line=1).pk, clock=clock("2027-03-01 10:07"))
    live = PlannerInstruction.objects.filter(withdrawn_at__isnull=True)
    assert list(live.values_list("place", flat=True)) == [2]


def test_new_order_ends_the_pins_of_the_order_before(listed: MakeList) -> None:
    first, second = line_orders().runs
    set_order([Move(second.key, "L1", 1)], seen=line_orders().seen, clock=clock("2027-03-01 10:05"))
    new_list("2027-03-01 10:06")
    back = next(run for run in line_orders().runs if run.filament_code == first.filament_code)
    set_order([Move(back.key, "L1", 1)], seen=line_orders().seen, clock=clock("2027-03-01 10:07"))
    live = PlannerInstruction.objects.filter(withdrawn_at__isnull=True).order_by("place")
    names = [first.filament_code, second.filament_code]
    assert list(live.values_list("place", "filament__code")) == list(enumerate(names, start=1))
    assert [row[0] for row in line_orders_of(new_list("2027-03-01 10:08"))] == names


def test_released_run_goes_to_another_line_with_its_promises(two_runs: tuple[Run, Run]) -> None:
    second_line()
    black = two_runs[1]
    done = set_order([Move(black.code, "L2", 1)], seen=line_orders().seen, clock=clock(NOW))
    row = Run.objects.get(code=black.code)
    assert (row.line.code, done.runs[0].line_before, done.runs[0].line) == ("L2", "L1", "L2")
    assert [note.line.code for note in RunPlan.objects.filter(run=black).order_by("id")] == ["L1", "L2"]
    assert OrderLine.objects.get(sku__item__code="PLA-BLACK-1000").promised_day == date(2027, 3, 4)
    assert check_books() == []


def test_listed_run_is_pinned_to_the_other_line_alone(listed: MakeList) -> None:
    second_line()
    black = next(run for run in line_orders().runs if run.filament_code == BLACK)
    set_order([Move(black.key, "L2", 1)], seen=line_orders().seen, clock=clock("2027-03-01 10:05"))
    pins = PlannerInstruction.objects.values_list("filament__code", "line__code", "place")
    assert list(pins) == [(BLACK, "L2", 1)]
    found = make_list_detail(new_list("2027-03-01 10:06").id).runs
    assert {(run.filament_code, run.line_code) for run in found} == {(BLACK, "L2"), (NATURAL, "L1")}


def test_started_run_and_foreign_line_are_refused(two_runs: tuple[Run, Run]) -> None:
    natural, black = two_runs
    start_run(run_code=natural.code, clock=clock("2027-03-01 14:00"))
    before, seen = written(), line_orders().seen
    with pytest.raises(RunOrderError, match=f"Run {natural.code} has started"):
        set_order([Move(natural.code, "L1", 1)], seen=seen, clock=clock("2027-03-01 14:05"))
    with pytest.raises(RunOrderError, match="L7 cannot make"):
        set_order([Move(black.code, "L7", 1)], seen=seen, clock=clock("2027-03-01 14:05"))
    assert written() == before


def test_order_that_was_seen_and_moved_since_is_refused(two_runs: tuple[Run, Run]) -> None:
    natural, black = two_runs
    seen = line_orders().seen
    cancel_run(run_code=black.code, clock=clock("2027-03-01 09:30"))
    before = written()
    with pytest.raises(OrderMovedError, match="nothing was changed"):
        set_order([Move(natural.code, "L1", 1)], seen=seen, clock=clock(NOW))
    assert written() == before


def test_what_moves_while_the_order_is_reckoned_is_seen_as_well(
    two_runs: tuple[Run, Run], monkeypatch: pytest.MonkeyPatch
) -> None:
    reckoned, seen = run_order.timed_order, line_orders().seen

    def meanwhile(*args: object, **kwargs: object) -> object:
        Run.objects.filter(code=two_runs[1].code).update(state="cancelled", cancelled_at=local(NOW))
        return reckoned(*args, **kwargs)

    monkeypatch.setattr(run_order, "timed_order", meanwhile)
    with pytest.raises((OrderMovedError, RunStateError)):
        set_order(turned(*two_runs), seen=seen, clock=clock(NOW))
    assert RunPlan.objects.count() == 2


def test_forbidden_filament_is_not_pinned_and_pinned_one_not_forbidden(listed: MakeList) -> None:
    second = line_orders().runs[1]
    moves = [Move(second.key, "L1", 1)]
    ban = forbid_filament(filament_code=second.filament_code, clock=clock("2027-03-01 10:04"))
    with pytest.raises(RunOrderError, match="was forbidden since this list"):
        set_order(moves, seen=line_orders().seen, clock=clock("2027-03-01 10:05"))
    ban.delete()
    set_order(moves, seen=line_orders().seen, clock=clock("2027-03-01 10:05"))
    with pytest.raises(InstructionError, match="pinned to a place"):
        forbid_filament(filament_code=second.filament_code, clock=clock("2027-03-01 10:06"))


def test_filament_pinned_to_its_line_stays_on_it(plant: TinyPlant) -> None:
    second_line()
    pin_filament(filament_code=BLACK, line_code="L1", clock=clock("2027-03-01 09:00"))
    new_list(NOW)
    black = next(run for run in line_orders().runs if run.filament_code == BLACK)
    with pytest.raises(RunOrderError, match="is pinned to L1; withdraw"):
        try_order([Move(black.key, "L2", 1)], now=local("2027-03-01 10:05"))


def test_order_is_read_with_as_many_queries_for_two_runs_as_for_ten(
    listed: MakeList, django_assert_num_queries: object
) -> None:
    release_list(make_list_id=listed.id, clock=clock("2027-03-01 10:05"))
    for hour in range(10, 18):
        released(BLACK, {"PLA-BLACK-1000": 1}, f"2027-03-03 {hour}:00", f"2027-03-03 {hour}:30")
    with django_assert_num_queries(11):  # type: ignore[operator]
        assert len(line_orders().runs) == 10
