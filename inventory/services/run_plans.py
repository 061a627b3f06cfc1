"""The plan of a run: what it may be, and each change noted under the lock of the run, for reads as of the past."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from inventory.errors import InvalidInputError
from inventory.models import Run, RunOutput, RunOutputPlan, RunPlan
from inventory.rules.clock import Clock


def check_planned_times(planned_start: datetime, planned_end: datetime) -> None:
    """Refuse times without a zone, and an end before its start.

    Raises
    ------
    InvalidInputError
        With the time that is wrong.
    """
    for name, instant in (("planned_start", planned_start), ("planned_end", planned_end)):
        if instant.tzinfo is None:
            raise InvalidInputError(
                "{name} {instant} has no time zone.", name=name, instant=instant, pointer=f"/{name}"
            )
    if planned_end < planned_start:
        raise InvalidInputError(
            "planned_end {planned_end} is before planned_start {planned_start}.",
            planned_end=planned_end,
            planned_start=planned_start,
            pointer="/planned_end",
        )


def note_run_plan(run: Run, *, clock: Clock) -> None:
    """Note line, times, hopper and changeover of a run as they are now planned. One query."""
    RunPlan.objects.create(
        run=run,
        line_id=run.line_id,
        planned_start=run.planned_start,
        planned_end=run.planned_end,
        hopper_id=run.hopper_id,
        drying_from=run.drying_from,
        changeover_from_id=run.changeover_from_id,
        changeover_min=run.changeover_min,
        planned_purge_kg=run.planned_purge_kg,
        occurred_at=clock.occurred_at,
        known_at=clock.known_at,
    )


def note_output_plans(outputs: Iterable[RunOutput], *, clock: Clock) -> None:
    """Note the spools of run outputs, and when they are expected on the shelf, as they are now planned. One query."""
    RunOutputPlan.objects.bulk_create(
        RunOutputPlan(
            run_output=output,
            planned=output.planned,
            shelf_at=output.shelf_at,
            shelf_day=output.shelf_day,
            occurred_at=clock.occurred_at,
            known_at=clock.known_at,
        )
        for output in outputs
    )
