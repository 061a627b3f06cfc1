"""Runs from their release to their finish. What they wind is promised from the release on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import Line, PromiseChange, Run, RunOutput
from inventory.rules.clock import Clock
from inventory.rules.texts import text
from inventory.services.allocations import lock_supply
from inventory.services.promises import repromise_run_output
from inventory.services.run_drying import ResinKeptTooLongError, ResinNotDryError, fill_hopper, note_drying
from inventory.services.run_finish import RunFinished, finish_run
from inventory.services.run_plans import check_planned_times, note_output_plans, note_run_plan
from inventory.services.run_records import RunStateError, locked_run, skus_of_run
from inventory.services.run_release import release_run
from inventory.services.run_supply import calendar_from, move_shelf_day, shelf_time
from inventory.services.transactions import in_one_transaction

__all__ = [
    "LineBusyError",
    "ResinKeptTooLongError",
    "ResinNotDryError",
    "RunChange",
    "RunFinished",
    "RunStateError",
    "cancel_run",
    "finish_run",
    "release_run",
    "reschedule_run",
    "resize_run",
    "start_run",
]

# What a start writes into its run.
STARTED = (
    "state", "started_at", "started_known_at", "started_by", "drying_from",
    "line_held", "hopper_held", "hopper_dried_since",
)  # fmt: skip


class LineBusyError(ConflictError):
    """Another run is started on the line."""

    code = "line_busy"


@dataclass(frozen=True)
class RunChange:
    """A run after a change of plan, and the promises that moved with it."""

    run: Run
    promise_changes: tuple[PromiseChange, ...]


@in_one_transaction
def start_run(
    *,
    run_code: str,
    clock: Clock,
    drying_from: datetime | None = None,
    posted_by: AbstractBaseUser | None = None,
) -> RunChange:
    """Start a released run; its line holds its filament from now on. A late start moves its promises.

    `drying_from` is when the resin went into its hopper, where that was not as planned.

    Raises
    ------
    NotFoundError, RunStateError
        If the run does not exist or is not released.
    LineBusyError
        If another run is started on the line.
    InvalidInputError
        If the resin would have gone into its hopper after the start.
    ResinNotDryError, ResinKeptTooLongError
        If the drying that was noted for the run has not lasted its hours, or ended longer ago than its resin keeps.
    """
    run = locked_run(
        run_code, states=[Run.State.RELEASED], only=text("only a released run can be started"), clock=clock
    )
    line = Line.objects.select_for_update().get(pk=run.line_id)
    if busy := Run.objects.filter(line=line, state=Run.State.STARTED).first():
        raise LineBusyError(
            "Run {run} is started on line {line}; finish it first.", run=busy.code, line=line.code, pointer="/run"
        )
    note_drying(run, drying_from=drying_from, start=clock.occurred_at)
    run.state = Run.State.STARTED
    run.started_at, run.started_known_at = clock.occurred_at, clock.known_at
    run.started_by_id = None if posted_by is None else posted_by.pk
    run.line_held_id, line.holds = line.holds_id, run.filament
    line.save(update_fields=["holds"])
    fill_hopper(run)
    run.save(update_fields=STARTED)
    if drying_from is not None:
        note_run_plan(run, clock=clock)
    wound_at = clock.occurred_at + (run.planned_end - run.planned_start)
    changes = move_shelf_day(run=run, wound_at=wound_at, clock=clock, cause=f"run {run.code} started at another time")
    return RunChange(run=run, promise_changes=tuple(changes))


@in_one_transaction
def reschedule_run(
    *, run_code: str, planned_start: datetime, planned_end: datetime, clock: Clock, reason: str = ""
) -> RunChange:
    """Move a run that has not finished, and the drying that has not begun; its orders are promised anew.

    Raises
    ------
    NotFoundError, RunStateError
        If the run does not exist, or is finished or cancelled.
    InvalidInputError
        If the times are wrong, or the start of a started run is moved.
    """
    run = locked_run(
        run_code,
        states=[Run.State.RELEASED, Run.State.STARTED],
        only=text("only a released or started run can be moved"),
        clock=clock,
    )
    check_planned_times(planned_start, planned_end)
    if run.state == Run.State.STARTED and planned_start != run.planned_start:
        raise InvalidInputError("Run {run} is started: only its end can move.", run=run_code, pointer="/planned_start")
    if run.drying_from is not None and clock.occurred_at < run.drying_from:
        # Resin that is in its hopper stays there; what was still to go in goes in with the run.
        run.drying_from += planned_start - run.planned_start
    run.planned_start, run.planned_end = planned_start, planned_end
    run.save(update_fields=["planned_start", "planned_end", "drying_from"])
    note_run_plan(run, clock=clock)
    cause = reason or f"run {run.code} was moved"
    changes = move_shelf_day(run=run, wound_at=planned_end, clock=clock, cause=cause)
    return RunChange(run=run, promise_changes=tuple(changes))


@in_one_transaction
def resize_run(*, run_code: str, spools: Mapping[str, int], clock: Clock, reason: str = "") -> RunChange:
    """Order other numbers of spools from a run that has not finished. SKUs that are not named stay as they are.

    Raises
    ------
    NotFoundError, RunStateError
        If the run or a SKU do not exist, or the run is finished or cancelled.
    InvalidInputError
        If a SKU is of another filament or no spools would be left.
    """
    run = locked_run(
        run_code,
        states=[Run.State.RELEASED, Run.State.STARTED],
        only=text("only a released or started run can be resized"),
        clock=clock,
    )
    skus = skus_of_run(run.filament, spools, pointer="/spools")
    outputs = {output.sku_id: output for output in RunOutput.objects.filter(run=run)}
    planned = {sku_id: output.planned for sku_id, output in outputs.items()}
    planned |= {sku.pk: spools[code] for code, sku in skus.items() if spools[code] or sku.pk in outputs}
    if not any(planned.values()):
        raise InvalidInputError(
            "No spools would be left of run {run}; cancel it instead.", run=run_code, pointer="/spools"
        )
    lock_supply(sku_ids=planned, clock=clock)
    shelf_at, shelf_day = shelf_time(run, wound_at=run.planned_end, calendar=calendar_from(run.planned_end))
    changes: list[PromiseChange] = []
    for sku_id, number in sorted(planned.items()):
        output = outputs.get(sku_id) or RunOutput.objects.create(
            run=run, sku_id=sku_id, planned=0, awaited=0, shelf_at=shelf_at, shelf_day=shelf_day
        )
        if output.planned != number:
            output.planned = output.awaited = number
            note_output_plans([output], clock=clock)
            changes += repromise_run_output(output, clock=clock, cause=reason or f"run {run.code} was resized")
    return RunChange(run=run, promise_changes=tuple(changes))


@in_one_transaction
def cancel_run(*, run_code: str, clock: Clock, reason: str = "") -> RunChange:
    """Cancel a run that has not started. Orders that wait for it are promised of other supply, or of none.

    Raises
    ------
    NotFoundError, RunStateError
        If the run does not exist, or has started: then it is finished with what it wound, be it nothing.
    """
    run = locked_run(
        run_code, states=[Run.State.RELEASED], only=text("only a released run can be cancelled"), clock=clock
    )
    run.state = Run.State.CANCELLED
    run.cancelled_at, run.cancelled_known_at = clock.occurred_at, clock.known_at
    run.save(update_fields=["state", "cancelled_at", "cancelled_known_at"])
    outputs = list(RunOutput.objects.filter(run=run).order_by("id"))
    lock_supply(sku_ids=[output.sku_id for output in outputs], clock=clock)
    changes: list[PromiseChange] = []
    for output in outputs:
        output.awaited = 0
        changes += repromise_run_output(output, clock=clock, cause=reason or f"run {run.code} was cancelled")
    return RunChange(run=run, promise_changes=tuple(changes))
