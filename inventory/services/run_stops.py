"""Stops of a run: the floor says when and why its line stands still, and when it goes on."""

from __future__ import annotations

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import Run, RunStop
from inventory.rules.clock import Clock
from inventory.rules.texts import text
from inventory.services.clocks import check_not_before
from inventory.services.run_records import locked_run
from inventory.services.texts import check_length
from inventory.services.transactions import in_one_transaction

MAX_NOTE_LENGTH = 200


class RunStoppedError(ConflictError):
    """The run stands already."""

    code = "run_stopped"


class RunNotStoppedError(ConflictError):
    """The run does not stand, so it cannot go on."""

    code = "run_not_stopped"


@in_one_transaction
def stop_run(
    *, run_code: str, reason: str, clock: Clock, note: str = "", posted_by: AbstractBaseUser | None = None
) -> RunStop:
    """Note that the line of a run stands still from now on, and why. Locks the run.

    Raises
    ------
    NotFoundError, RunStateError
        If there is no such run, or it is not under way.
    RunStoppedError
        If it stands already.
    InvalidInputError
        If the reason is none of `RunStop.Reason`, another reason is not noted, the note is too long, or the stop is
        earlier than the start or than the end of the stop before.
    """
    run = locked_run(run_code, states=[Run.State.STARTED], only=text("only a started run can be stopped"), clock=clock)
    _check_reason(reason, note)
    last = run.stops.order_by("-stopped_at", "-id").first()
    if last is not None and last.went_on_at is None:
        why = last.get_reason_display()
        raise RunStoppedError(
            "Run {run} stands since {since}: {reason}.", run=run_code, since=last.stopped_at, reason=why
        )
    if last is not None and last.went_on_at is not None and last.went_on_known_at is not None:
        check_not_before(
            clock, Clock(last.went_on_at, last.went_on_known_at), what=text("run {run} went on", run=run_code)
        )
    return RunStop.objects.create(
        run=run,
        reason=reason,
        note=note.strip(),
        stopped_at=clock.occurred_at,
        stopped_known_at=clock.known_at,
        stopped_by_id=None if posted_by is None else posted_by.pk,
    )


@in_one_transaction
def let_run_go_on(*, run_code: str, clock: Clock) -> RunStop:
    """Note that a run that stood goes on. Locks the run.

    Raises
    ------
    NotFoundError, RunStateError
        If there is no such run, or it is not under way.
    RunNotStoppedError
        If it does not stand.
    InvalidInputError
        If it would go on before it stopped.
    """
    run = locked_run(
        run_code, states=[Run.State.STARTED], only=text("only a started run can be set going again"), clock=clock
    )
    stop = end_open_stop(run, clock=clock)
    if stop is None:
        raise RunNotStoppedError("Run {run} does not stand.", run=run_code)
    return stop


def end_open_stop(run: Run, *, clock: Clock) -> RunStop | None:
    """End the open stop of a locked run, if it has one. Two queries at most.

    Raises
    ------
    InvalidInputError
        If it would end before it began.
    """
    stop = run.stops.filter(went_on_at__isnull=True).first()
    if stop is None:
        return None
    check_not_before(clock, Clock(stop.stopped_at, stop.stopped_known_at), what=text("run {run} stopped", run=run.code))
    stop.went_on_at, stop.went_on_known_at = clock.occurred_at, clock.known_at
    stop.save(update_fields=["went_on_at", "went_on_known_at"])
    return stop


def _check_reason(reason: str, note: str) -> None:
    if reason not in RunStop.Reason.values:
        raise InvalidInputError(
            "Reason {reason!r} is none of {known}.",
            reason=reason,
            known=", ".join(RunStop.Reason.values),
            pointer="/reason",
        )
    check_length("note", note, most=MAX_NOTE_LENGTH)
    if reason == RunStop.Reason.OTHER and not note.strip():
        raise InvalidInputError("Another reason needs a note that says which.", pointer="/note")
