"""Steps of a changeover: which there are, who ticked what, and what was taken back."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Line, Run, StepTick
from inventory.rules.changeover_steps import Made, steps_of
from inventory.selectors.changeover_steps import StepRow, steps_of_run
from inventory.selectors.run_rows import RunNotFoundError
from inventory.services.changeover_steps import StepNotNeededError, tick_step
from inventory.services.run_records import RunStateError
from inventory.services.runs import start_run
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import finished, natural_started, released, started
from tests.inventory.builders import TinyPlant, clock, local

BLACK = Made("PLA", "BLACK", Decimal(25), Decimal("1.75"))
WHITE = Made("PLA", "WHITE", Decimal(96), Decimal("1.75"))
ALWAYS = {"resin", "concentrate", "drying", "diameter"}

database = pytest.mark.django_db


@pytest.mark.parametrize(
    ("held", "made", "more"),
    [
        (WHITE, WHITE, set()),
        (WHITE, BLACK, {"purge"}),
        (BLACK, WHITE, {"purge", "lighter"}),
        (BLACK, Made("PETG", "BLACK", Decimal(25), Decimal("1.75")), {"data_sheets", "purge"}),
        (BLACK, Made("PLA", "BLACK", Decimal(25), Decimal("2.85")), {"setting"}),
        (None, BLACK, {"data_sheets", "purge", "lighter", "setting"}),
    ],
    ids=["same", "to dark", "to light", "material", "diameter", "nobody knows"],
)
def test_changeover_has_the_steps_of_what_differs(held: Made | None, made: Made, more: set[str]) -> None:
    # Common practice, no source: a change of material, of colour towards light and of diameter ask for more.
    assert set(steps_of(held, made, has_concentrate=True, is_dried=True)) == ALWAYS | more


def test_natural_that_is_not_dried_has_no_step_for_either() -> None:
    assert steps_of(WHITE, WHITE, has_concentrate=False, is_dried=False) == ("resin", "diameter")


def row(run: Run, step: str, **asked: object) -> StepRow:
    return next(one for one in steps_of_run(run.code, **asked) if one.step == step)


def tick(run: Run, at: str, *, step: str = "purge", is_done: bool = True, by: User | None = None) -> StepTick | None:
    return tick_step(run_code=run.code, step=step, is_done=is_done, clock=clock(f"2027-03-01 {at}"), posted_by=by)


@database
def test_step_says_who_ticked_it_and_when(stores: TinyPlant) -> None:
    run, anna = started(), User.objects.create_user("anna")
    tick(run, "08:10", by=anna)
    done = row(run, "purge").done
    assert done is not None
    assert (done.by, done.occurred_at) == ("anna", local("2027-03-01 08:10"))


@database
def test_step_ticked_twice_is_noted_once_with_who_was_first(stores: TinyPlant) -> None:
    run, anna, ben = started(), User.objects.create_user("anna"), User.objects.create_user("ben")
    first, second = tick(run, "08:10", by=anna), tick(run, "08:11", by=ben)
    assert first == second
    assert [one.by for one in row(run, "purge").ticks] == ["anna"]


@database
def test_tick_that_was_a_mistake_is_taken_back_with_a_trace(stores: TinyPlant) -> None:
    run = started()
    tick(run, "08:10")
    tick(run, "08:12", is_done=False)
    tick(run, "08:13", is_done=False)
    assert row(run, "purge").done is None
    tick(run, "08:30")
    assert [(one.is_done, one.occurred_at) for one in row(run, "purge").ticks] == [
        (True, local("2027-03-01 08:10")),
        (False, local("2027-03-01 08:12")),
        (True, local("2027-03-01 08:30")),
    ]


@database
def test_taking_back_what_nobody_ticked_notes_nothing(stores: TinyPlant) -> None:
    assert tick(started(), "08:10", is_done=False) is None
    assert not StepTick.objects.exists()


@database
def test_steps_are_read_as_they_were_known(stores: TinyPlant) -> None:
    run = started()
    tick(run, "08:10")
    tick(run, "08:20", is_done=False)
    assert row(run, "purge", as_of=local("2027-03-01 08:09")).ticks == ()
    assert row(run, "purge", as_of=local("2027-03-01 08:15")).is_done
    with pytest.raises(RunNotFoundError, match="was released as of"):
        steps_of_run(run.code, as_of=local("2027-03-01 06:59"))


@database
def test_steps_follow_the_plan_until_the_start_and_then_what_the_line_held(stores: TinyPlant) -> None:
    # Planned after its own filament; at its start the line holds another material.
    run = released(changeover_from_code="PLA-BLACK-1.75")
    assert {one.step for one in steps_of_run(run.code)} == ALWAYS
    Line.objects.update(holds=stores.natural)
    start_run(run_code=run.code, clock=clock("2027-03-01 08:00"))
    assert {one.step for one in steps_of_run(run.code)} == ALWAYS | {"data_sheets", "purge"}
    assert {one.step for one in steps_of_run(run.code, as_of=local("2027-03-01 07:30"))} == ALWAYS


@database
def test_tick_stays_readable_when_the_changeover_lost_its_step(stores: TinyPlant) -> None:
    run = released()
    tick(run, "07:30")
    Line.objects.update(holds=stores.black)
    start_run(run_code=run.code, clock=clock("2027-03-01 08:00"))
    assert (row(run, "purge").is_needed, row(run, "purge").is_done) == (False, True)
    tick(run, "08:40", is_done=False)
    assert [one.is_done for one in row(run, "purge").ticks] == [True, False]


@database
def test_step_done_before_the_start_may_be_told_after_it(stores: TinyPlant) -> None:
    tick(started(), "07:50", step="resin")
    assert StepTick.objects.get().occurred_at == local("2027-03-01 07:50")


@database
def test_step_that_the_changeover_does_not_have_is_refused(stores: TinyPlant) -> None:
    with pytest.raises(StepNotNeededError, match="has no step Concentrate"):
        tick(natural_started(), "08:10", step="concentrate")


@database
def test_steps_of_a_finished_run_stay_as_they_were(stores: TinyPlant) -> None:
    with pytest.raises(RunStateError, match="released or started"):
        tick(finished().run, "15:00")


@database
@pytest.mark.parametrize(("step", "run_code"), [("lunch", None), ("purge", "R9")])
def test_unknown_step_or_run_is_refused(stores: TinyPlant, step: str, run_code: str | None) -> None:
    code = run_code or started().code
    with pytest.raises((InvalidInputError, NotFoundError), match=r"is none of resin|does not exist"):
        tick_step(run_code=code, step=step, is_done=True, clock=clock("2027-03-01 09:00"))


@database
@pytest.mark.parametrize(("at", "words"), [("06:50", "was released"), ("08:05", "ticked or taken back")])
def test_tick_before_what_it_follows_is_refused(stores: TinyPlant, at: str, words: str) -> None:
    run = started()
    tick(run, "08:10")
    with pytest.raises(InvalidInputError, match=words):
        tick(run, at, is_done=at == "06:50", step="resin" if at == "06:50" else "purge")


@database
def test_tick_never_changes(stores: TinyPlant) -> None:
    tick(started(), "08:10")
    with pytest.raises(IntegrityError, match="never_changes"), transaction.atomic():
        StepTick.objects.update(turn=3)


@database
@pytest.mark.clean_error_of("steptick_one_per_turn")
def test_same_turn_is_answered_by_the_one_that_stands(stores: TinyPlant) -> None:
    run = started()
    assert tick(run, "08:10") == tick(run, "08:10")


@database
@pytest.mark.refused_by_database("steptick_one_per_turn")
def test_second_row_of_a_turn_is_refused_by_the_database(stores: TinyPlant) -> None:
    tick(started(), "08:10")
    with refused("steptick_one_per_turn"):
        copy_of(StepTick.objects.get())


@database
@pytest.mark.clean_error_of("steptick_turns_from_one")
def test_first_turn_of_a_step_is_one(stores: TinyPlant) -> None:
    made = tick(started(), "08:10")
    assert made is not None
    assert made.turn == 1


@database
@pytest.mark.refused_by_database("steptick_turns_from_one")
def test_turn_zero_is_refused_by_the_database(stores: TinyPlant) -> None:
    tick(started(), "08:10")
    with refused("steptick_turns_from_one"):
        copy_of(StepTick.objects.get(), turn=0)
