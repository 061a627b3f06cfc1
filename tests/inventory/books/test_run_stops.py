"""Stops of a run: what the floor says of a line that stands still, and the hours lost by reason."""

from __future__ import annotations

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import RunStop
from inventory.selectors.run_stops import hours_lost, stops_between, stops_of_run
from inventory.services.run_records import RunStateError
from inventory.services.run_stops import RunNotStoppedError, RunStoppedError, let_run_go_on, stop_run
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import finish, finished, released, started
from tests.inventory.builders import TinyPlant, clock, local

pytestmark = pytest.mark.django_db


def stopped(at: str, *, reason: str = "breakage", until: str | None = None, code: str | None = None) -> str:
    """A stop on Monday 2027-03-01 of the run that is named, else of one started at 08:00."""
    run_code = code or started().code
    stop_run(run_code=run_code, reason=reason, clock=clock(f"2027-03-01 {at}"))
    if until is not None:
        let_run_go_on(run_code=run_code, clock=clock(f"2027-03-01 {until}"))
    return run_code


def test_stop_is_open_until_the_run_goes_on(stores: TinyPlant) -> None:
    code = stopped("09:00")
    assert [row.went_on_at for row in stops_of_run(code)] == [None]
    let_run_go_on(run_code=code, clock=clock("2027-03-01 09:20"))
    assert [row.went_on_at for row in stops_of_run(code)] == [local("2027-03-01 09:20")]


def test_finish_ends_an_open_stop(stores: TinyPlant) -> None:
    run = started()
    stopped("13:00", code=run.code)
    finish(run)
    assert RunStop.objects.get().went_on_at == local("2027-03-01 14:00")


def test_finish_before_the_stop_is_refused(stores: TinyPlant) -> None:
    run = started()
    stopped("13:00", code=run.code)
    with pytest.raises(InvalidInputError, match="is before run R"):
        finish(run, at="2027-03-01 12:00")


def test_stop_is_read_as_it_was_known(stores: TinyPlant) -> None:
    code = stopped("09:00", until="09:20")
    assert stops_of_run(code, as_of=local("2027-03-01 08:59")) == []
    assert stops_of_run(code, as_of=local("2027-03-01 09:10"))[0].went_on_at is None


def test_hours_lost_are_summed_by_reason_within_the_window(stores: TinyPlant) -> None:
    code = stopped("08:30", until="09:30")
    stopped("10:00", until="10:15", code=code)
    stopped("12:00", reason="screen", code=code)
    first, until = local("2027-03-01 09:00"), local("2027-03-01 13:00")
    lost = hours_lost(stops_between(first, until), first=first, until=until)
    # The strand broke for 30 min within the window and for 15 min; the screen is changed since 12:00, an hour.
    assert [(row.reason, row.stops, row.hours) for row in lost] == [("screen", 1, 1.0), ("breakage", 2, 0.75)]


def test_stop_that_ended_before_the_window_is_no_part_of_it(stores: TinyPlant) -> None:
    stopped("08:30", until="09:00")
    assert stops_between(local("2027-03-01 09:00"), local("2027-03-01 13:00")) == []


@pytest.mark.parametrize("state", ["released", "finished"])
def test_only_a_run_under_way_stops(stores: TinyPlant, state: str) -> None:
    run = released() if state == "released" else finished().run
    with pytest.raises(RunStateError, match="only a started run can be stopped"):
        stop_run(run_code=run.code, reason="crew", clock=clock("2027-03-01 15:00"))


def test_run_that_does_not_stand_cannot_go_on(stores: TinyPlant) -> None:
    with pytest.raises(RunNotStoppedError):
        let_run_go_on(run_code=started().code, clock=clock("2027-03-01 09:00"))


def test_stop_of_no_run_is_refused(stores: TinyPlant) -> None:
    with pytest.raises(NotFoundError):
        stop_run(run_code="R9", reason="crew", clock=clock("2027-03-01 09:00"))


@pytest.mark.parametrize(
    ("reason", "note", "words"),
    [("lunch", "", "is none of resin"), ("crew", "x" * 201, "note")],
)
def test_stop_without_a_known_reason_is_refused(stores: TinyPlant, reason: str, note: str, words: str) -> None:
    with pytest.raises(InvalidInputError, match=words):
        stop_run(run_code=started().code, reason=reason, note=note, clock=clock("2027-03-01 09:00"))
    assert not RunStop.objects.exists()


def test_stop_before_the_end_of_the_last_one_is_refused(stores: TinyPlant) -> None:
    code = stopped("09:00", until="10:00")
    with pytest.raises(InvalidInputError, match="went on"):
        stopped("09:30", code=code)


@pytest.mark.clean_error_of("runstop_one_open_per_run")
def test_run_that_stands_cannot_stop_again(stores: TinyPlant) -> None:
    code = stopped("09:00")
    with pytest.raises(RunStoppedError, match="stands since 2027-03-01"):
        stopped("09:30", code=code)


@pytest.mark.refused_by_database("runstop_one_open_per_run")
def test_second_open_stop_is_refused_by_the_database(stores: TinyPlant) -> None:
    stopped("09:00")
    with refused("runstop_one_open_per_run"):
        copy_of(RunStop.objects.get())


@pytest.mark.clean_error_of("runstop_goes_on_after_it_stopped")
def test_run_cannot_go_on_before_it_stopped(stores: TinyPlant) -> None:
    code = stopped("09:00")
    with pytest.raises(InvalidInputError, match="is before run"):
        let_run_go_on(run_code=code, clock=clock("2027-03-01 08:59"))


@pytest.mark.refused_by_database("runstop_goes_on_after_it_stopped")
def test_end_before_the_stop_is_refused_by_the_database(stores: TinyPlant) -> None:
    stopped("09:00", until="09:10")
    with refused("runstop_goes_on_after_it_stopped"):
        RunStop.objects.update(went_on_at=local("2027-03-01 08:00"))


@pytest.mark.clean_error_of("runstop_other_is_noted")
def test_other_reason_without_a_note_is_refused_by_the_service(stores: TinyPlant) -> None:
    with pytest.raises(InvalidInputError, match="needs a note"):
        stop_run(run_code=started().code, reason="other", note=" ", clock=clock("2027-03-01 09:00"))


@pytest.mark.refused_by_database("runstop_other_is_noted")
def test_other_reason_without_a_note_is_refused_by_the_database(stores: TinyPlant) -> None:
    stopped("09:00")
    with refused("runstop_other_is_noted"):
        RunStop.objects.update(reason="other", note="")
