"""Steps of a changeover: the person at the line ticks each one, and takes back what was ticked by mistake."""

from __future__ import annotations

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import Run, StepTick
from inventory.rules.clock import Clock
from inventory.rules.texts import text
from inventory.selectors.changeover_steps import needed_steps
from inventory.services.clocks import check_not_before
from inventory.services.run_records import run_in_state
from inventory.services.transactions import in_one_transaction


class StepNotNeededError(ConflictError):
    """The changeover of the run does not have this step."""

    code = "step_not_needed"


@in_one_transaction
def tick_step(
    *, run_code: str, step: str, is_done: bool, clock: Clock, posted_by: AbstractBaseUser | None = None
) -> StepTick | None:
    """Tick a step of the changeover of a run, or take its tick back. Locks the run.

    What stands already is left as it is, so a report that comes twice is noted once, with who said it first. Returns
    the row that says how the step stands, None where a step that nobody ever ticked is taken back.

    Raises
    ------
    NotFoundError, RunStateError
        If there is no such run, or it is finished or cancelled.
    StepNotNeededError
        If the changeover does not have the step that is ticked.
    InvalidInputError
        If the step is none of `StepTick.Step`, or this is earlier than the release of the run or than what stands.
    """
    if step not in StepTick.Step.values:
        raise InvalidInputError(
            "Step {step!r} is none of {known}.", step=step, known=", ".join(StepTick.Step.values), pointer="/step"
        )
    run = run_in_state(
        run_code,
        states=[Run.State.RELEASED, Run.State.STARTED],
        only=text("only the steps of a run that is released or started are ticked"),
    )
    last = run.step_ticks.filter(step=step).order_by("-turn").first()
    if (last is not None and last.is_done) == is_done:
        return last
    if is_done and step not in needed_steps(run):
        raise StepNotNeededError(
            "The changeover of run {run} has no step {step}.", run=run_code, step=StepTick.Step(step).label
        )
    since = Clock(run.released_at, run.released_known_at)
    check_not_before(clock, since, what=text("run {run} was released", run=run_code))
    if last is not None:
        changed = Clock(last.occurred_at, last.known_at)
        check_not_before(clock, changed, what=text("the step was ticked or taken back"))
    return StepTick.objects.create(
        run=run,
        step=step,
        turn=1 if last is None else last.turn + 1,
        occurred_at=clock.occurred_at,
        known_at=clock.known_at,
        posted_by_id=None if posted_by is None else posted_by.pk,
    )
