"""Released runs planned anew together: other lines, times, hoppers and changeovers, and their promises at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inventory.models import Filament, Hopper, Line, PromiseChange, Run, RunOutput
from inventory.rules.clock import Clock
from inventory.rules.texts import text
from inventory.services.allocations import lock_supply
from inventory.services.promises import promise_waiting_lines
from inventory.services.run_plans import note_output_plans, note_run_plan
from inventory.services.run_records import locked_run
from inventory.services.run_supply import calendar_from, shelf_time
from inventory.services.transactions import in_one_transaction

PLANNED = (
    "line", "planned_start", "planned_end", "hopper", "drying_from",
    "changeover_from", "changeover_min", "planned_purge_kg",
)  # fmt: skip


@dataclass(frozen=True)
class RunReplan:
    """What a released run is now planned as. Its spools stay."""

    run_code: str
    line_code: str
    planned_start: datetime
    planned_end: datetime
    hopper_code: str | None
    drying_from: datetime | None
    changeover_from_code: str | None
    changeover_min: Decimal
    planned_purge_kg: Decimal


@in_one_transaction
def replan_runs(plans: Sequence[RunReplan], *, clock: Clock, cause: str) -> tuple[PromiseChange, ...]:
    """Write the plans of released runs, note each in its history, and promise the orders that wait for them anew.

    The promises are made once, when the days of all runs are written: an order does not wander from run to run.
    Locks the runs by code, then the supply of their SKUs.

    Raises
    ------
    NotFoundError, RunStateError
        If a run does not exist or is not released any more.
    """
    keys = _Keys(plans)
    runs = []
    for plan in sorted(plans, key=lambda plan: plan.run_code):
        run = locked_run(
            plan.run_code,
            states=[Run.State.RELEASED],
            only=text("only a released run can be put elsewhere"),
            clock=clock,
        )
        keys.write(plan, run)
        run.save(update_fields=PLANNED)
        note_run_plan(run, clock=clock)
        runs.append(run)
    return _promise_anew(runs, clock=clock, cause=cause)


def _promise_anew(runs: Sequence[Run], *, clock: Clock, cause: str) -> tuple[PromiseChange, ...]:
    outputs = RunOutput.objects.filter(run__in=runs).order_by("id")
    sku_ids = sorted({output.sku_id for output in outputs})
    lock_supply(sku_ids=sku_ids, clock=clock)
    times = {run.pk: shelf_time(run, wound_at=run.planned_end, calendar=calendar_from(run.planned_end)) for run in runs}
    later = [output for output in outputs.all() if (output.shelf_at, output.shelf_day) != times[output.run_id]]
    for output in later:
        output.shelf_at, output.shelf_day = times[output.run_id]
    RunOutput.objects.bulk_update(later, ["shelf_at", "shelf_day"])
    note_output_plans(later, clock=clock)
    return tuple(promise_waiting_lines(sku_ids=sku_ids, clock=clock, cause=cause))


class _Keys:
    """Lines, hoppers and filaments by the codes that plans name."""

    def __init__(self, plans: Sequence[RunReplan]) -> None:
        self._line = _by_code(Line, [plan.line_code for plan in plans])
        self._hopper = _by_code(Hopper, [plan.hopper_code for plan in plans])
        self._filament = _by_code(Filament, [plan.changeover_from_code for plan in plans])

    def write(self, plan: RunReplan, run: Run) -> None:
        """Write a plan into its run."""
        run.line_id = self._line[plan.line_code]
        run.planned_start, run.planned_end = plan.planned_start, plan.planned_end
        run.hopper_id = None if plan.hopper_code is None else self._hopper[plan.hopper_code]
        run.drying_from = plan.drying_from
        run.changeover_from_id = (
            None if plan.changeover_from_code is None else self._filament[plan.changeover_from_code]
        )
        run.changeover_min, run.planned_purge_kg = plan.changeover_min, plan.planned_purge_kg


def _by_code(model: type[Line | Hopper | Filament], codes: Sequence[str | None]) -> Mapping[str, int]:
    return dict(model.objects.filter(code__in={code for code in codes if code}).values_list("code", "pk"))
