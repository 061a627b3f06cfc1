"""From the list to the floor: runs of the books, promises, instructions that are carried out."""

from __future__ import annotations

from datetime import date
from functools import partial

import pytest

from inventory.models import OrderLine, Run
from inventory.services.runs import start_run
from stockplan.planner.models import ListedRun, MakeList, PlannerInstruction
from stockplan.planner.selectors.make_lists import make_list_detail, runs_up_to
from stockplan.planner.services.instructions import (
    InstructionError,
    forbid_filament,
    pin_filament,
    resize_sku,
    withdraw_instruction,
)
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.release import ReleaseError, release_line_up_to, release_list, release_listed_run
from tests.inventory.at_once import at_once
from tests.inventory.builders import TinyPlant, clock, local
from tests.planner.conftest import order

AT = "2027-03-01 10:00"


def _list(at: str = AT) -> MakeList:
    return compute_make_list(as_of=local(at), now=local(at), days=5)


def test_released_list_becomes_runs_that_are_promised(ordered: TinyPlant) -> None:
    make_list = _list()
    runs = release_list(make_list_id=make_list.id, clock=clock("2027-03-01 10:05"))
    line = OrderLine.objects.get(sku=ordered.black_1kg)
    assert [run.line.code for run in runs] == ["L1"]
    # Shelved on Tuesday, promised for Thursday as the customer asked.
    assert line.promised_day == date(2027, 3, 4)
    assert line.allocations.get().run_output.run_id == runs[0].pk


def test_released_list_says_which_run_became_which(ordered: TinyPlant) -> None:
    make_list = _list()
    runs = release_list(make_list_id=make_list.id, clock=clock("2027-03-01 10:05"))
    detail = make_list_detail(make_list.id)
    assert (detail.state, detail.runs[0].run_code, detail.runs[0].run_state) == ("released", runs[0].code, "released")


def test_released_run_is_not_listed_again(ordered: TinyPlant) -> None:
    release_list(make_list_id=_list().id, clock=clock("2027-03-01 10:05"))
    assert make_list_detail(_list("2027-03-01 10:10").id).runs == ()


def test_released_run_can_start_at_its_planned_start(ordered: TinyPlant) -> None:
    run = release_list(make_list_id=_list().id, clock=clock("2027-03-01 10:05"))[0]
    start_run(run_code=run.code, clock=clock("2027-03-01 14:00"))
    assert Run.objects.get(pk=run.pk).state == "started"


def test_list_cannot_be_released_twice(ordered: TinyPlant) -> None:
    make_list = _list()
    release_list(make_list_id=make_list.id, clock=clock("2027-03-01 10:05"))
    with pytest.raises(ReleaseError, match="released already"):
        release_list(make_list_id=make_list.id, clock=clock("2027-03-01 10:06"))
    assert Run.objects.count() == 1


def test_old_list_cannot_be_released_after_a_newer_one(ordered: TinyPlant) -> None:
    old, new = _list(), _list("2027-03-01 11:00")
    release_list(make_list_id=new.id, clock=clock("2027-03-01 11:05"))
    with pytest.raises(ReleaseError, match="newer list"):
        release_listed_run(listed_run_id=old.runs.get().pk, clock=clock("2027-03-01 11:10"))
    assert Run.objects.count() == 1


def test_unknown_or_blocked_run_cannot_be_released(ordered: TinyPlant) -> None:
    with pytest.raises(ReleaseError, match="no listed run"):
        release_listed_run(listed_run_id=987654, clock=clock(AT))
    listed = _list().runs.get()
    ListedRun.objects.filter(pk=listed.pk).update(is_blocked=True)
    with pytest.raises(ReleaseError, match="blocked"):
        release_listed_run(listed_run_id=listed.pk, clock=clock(AT))


def test_pin_puts_a_filament_on_the_list_until_its_run_is_released(plant: TinyPlant) -> None:
    pin_filament(filament_code="PETG-NATURAL-1.75", clock=clock("2027-03-01 09:00"))
    make_list = _list()
    assert [run.is_pinned for run in make_list_detail(make_list.id).runs] == [True]
    release_list(make_list_id=make_list.id, clock=clock("2027-03-01 10:05"))
    assert not PlannerInstruction.objects.filter(withdrawn_at__isnull=True).exists()


def test_forbidden_filament_stays_off_until_withdrawn(ordered: TinyPlant) -> None:
    ban = forbid_filament(filament_code="PLA-BLACK-1.75", clock=clock("2027-03-01 09:00"))
    assert make_list_detail(_list().id).runs == ()
    withdraw_instruction(instruction_id=ban.pk, clock=clock("2027-03-01 10:01"))
    assert len(make_list_detail(_list("2027-03-01 10:02").id).runs) == 1


def test_size_by_hand_is_listed_exactly(ordered: TinyPlant) -> None:
    resize_sku(sku_code="PLA-BLACK-1000", spools=11, clock=clock("2027-03-01 09:00"))
    run = make_list_detail(_list().id).runs[0]
    assert {size.sku_code: size.spools for size in run.sizes}["PLA-BLACK-1000"] == 11


def test_instruction_whose_last_day_has_passed_no_longer_holds(ordered: TinyPlant) -> None:
    forbid_filament(filament_code="PLA-BLACK-1.75", last_day=date(2027, 2, 26), clock=clock("2027-02-25 09:00"))
    assert len(make_list_detail(_list().id).runs) == 1


def test_last_day_that_is_over_in_the_plant_is_refused(plant: TinyPlant) -> None:
    # Half past midnight in the plant; elsewhere it is still the first of March.
    night = clock("2027-03-02 00:30")
    with pytest.raises(InstructionError, match="2027-03-01 is over: the last day is 2027-03-02 or later"):
        pin_filament(filament_code="PLA-BLACK-1.75", last_day=date(2027, 3, 1), clock=night)
    assert pin_filament(filament_code="PLA-BLACK-1.75", last_day=date(2027, 3, 2), clock=night).pk


def test_instruction_that_ended_at_midnight_of_the_plant_makes_room_for_another(plant: TinyPlant) -> None:
    forbid_filament(filament_code="PLA-BLACK-1.75", last_day=date(2027, 3, 1), clock=clock(AT))
    assert pin_filament(filament_code="PLA-BLACK-1.75", clock=clock("2027-03-02 00:30")).pk


def test_instructions_that_cannot_be_are_refused(plant: TinyPlant) -> None:
    with pytest.raises(InstructionError, match="no filament"):
        pin_filament(filament_code="NOTHING", clock=clock(AT))
    with pytest.raises(InstructionError, match="no line L9"):
        pin_filament(filament_code="PLA-BLACK-1.75", line_code="L9", clock=clock(AT))
    with pytest.raises(InstructionError, match="0 to 100000"):
        resize_sku(sku_code="PLA-BLACK-1000", spools=-1, clock=clock(AT))
    assert not PlannerInstruction.objects.exists()


def test_second_instruction_for_a_filament_is_refused(plant: TinyPlant) -> None:
    pin_filament(filament_code="PLA-BLACK-1.75", clock=clock(AT))
    with pytest.raises(InstructionError, match="withdraw it first"):
        forbid_filament(filament_code="PLA-BLACK-1.75", clock=clock(AT))
    assert PlannerInstruction.objects.get().kind == "pin"


@pytest.fixture
def two_listed(plant: TinyPlant) -> tuple[ListedRun, ListedRun]:
    """A list of two runs on one line, in the order of their places."""
    order("NAT", [("PETG-NAT-1000", 5)], at="2027-03-01 08:00", wanted="2027-03-03")
    order("BLA", [("PLA-BLACK-1000", 6)], at="2027-03-01 08:00", wanted="2027-03-04")
    first, second = _list().runs.order_by("place_on_line")
    return first, second


def test_line_is_released_up_to_a_run_so_that_it_does_not_stand_before_it(
    two_listed: tuple[ListedRun, ListedRun],
) -> None:
    first, second = two_listed
    assert runs_up_to(first.make_list_id) == {first.pk: 1, second.pk: 2}
    runs = release_line_up_to(listed_run_id=second.pk, clock=clock("2027-03-01 10:05"))
    assert [run.planned_start for run in runs] == [first.start, second.start]
    assert MakeList.objects.get().state == "released"


def test_run_alone_is_released_without_those_before_it(two_listed: tuple[ListedRun, ListedRun]) -> None:
    first, second = two_listed
    run = release_listed_run(listed_run_id=second.pk, clock=clock("2027-03-01 10:05"))
    assert (run.planned_start, Run.objects.count(), MakeList.objects.get().state) == (second.start, 1, "proposed")
    # What is released is no longer in the way.
    assert runs_up_to(first.make_list_id) == {first.pk: 1}
    assert len(release_line_up_to(listed_run_id=first.pk, clock=clock("2027-03-01 10:06"))) == 1


@pytest.mark.django_db(transaction=True)
def test_run_that_two_people_release_at_once_is_released_once(two_listed: tuple[ListedRun, ListedRun]) -> None:
    release = partial(release_line_up_to, listed_run_id=two_listed[1].pk, clock=clock("2027-03-01 10:05"))
    answers = at_once(release, release)
    assert sorted(type(answer).__name__ for answer in answers) == ["ReleaseError", "list"]
    assert Run.objects.count() == 2
