"""Runs as rows, as they stand or as the books knew them at an instant."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum

from inventory.errors import NotFoundError
from inventory.models import Allocation, Item, MovementLine, Run, RunOutput
from inventory.rules.flows import PIPELINE
from inventory.selectors.run_plans import output_plans, planned_on, run_plans

MAX_ID = 2**63 - 1


class RunNotFoundError(NotFoundError):
    """There is no run of that code or id."""

    code = "run_not_found"


@dataclass(frozen=True)
class RunOutputRow:
    """The spools of one SKU of a run."""

    sku_code: str
    planned: int
    good: int | None
    scrap: int | None
    awaited: int
    allocated: int
    shelf_at: datetime
    shelf_day: date


@dataclass(frozen=True)
class RunRow:
    """One run with its outputs in the order of SKU codes."""

    id: int
    code: str
    filament_code: str
    line_code: str
    state: str
    planned_start: datetime
    planned_end: datetime
    drying_from: datetime | None
    hopper_code: str | None
    changeover_from_code: str | None
    changeover_min: Decimal
    planned_purge_kg: Decimal
    started_at: datetime | None
    finished_at: datetime | None
    cancelled_at: datetime | None
    real_minutes: Decimal | None
    purge_kg: Decimal | None
    mass_in_kg: Decimal | None
    mass_out_kg: Decimal | None
    is_mass_flagged: bool
    outputs: tuple[RunOutputRow, ...]


def run_code_of(reference: str) -> str:
    """Return the code of the run that an address names by its code or by its id. One query.

    Raises
    ------
    RunNotFoundError
        If there is none.
    """
    return _named(reference).code


def run_rows(
    *,
    as_of: datetime | None = None,
    state: str | None = None,
    line_code: str | None = None,
    filament_code: str | None = None,
    after_id: int = 0,
    limit: int,
) -> list[RunRow]:
    """Return runs in the order of their ids from `after_id` on. As of a past instant: those released until then, with
    the plan, the state and the spools known then. Two queries, six as of an instant.
    """
    runs = Run.objects.filter(id__gt=after_id)
    if line_code is not None:
        runs = runs.filter(Q(line__code=line_code) if as_of is None else planned_on(line_code, as_of=as_of))
    if filament_code is not None:
        runs = runs.filter(filament__code=filament_code)
    if as_of is not None:
        runs = runs.filter(released_known_at__lte=as_of)
    if state is not None:
        runs = runs.filter(state=state) if as_of is None else runs.filter(_state_as_of(as_of)[state])
    return _rows(runs.order_by("id"), as_of=as_of, limit=limit)


def run_row(reference: str, *, as_of: datetime | None = None) -> RunRow:
    """Return one run, by its code or its id.

    Raises
    ------
    RunNotFoundError
        If there is none, or the books did not know it as of the instant.
    """
    run = _named(reference)
    if as_of is not None and run.released_known_at > as_of:
        raise RunNotFoundError("No run {reference!r} was released as of {as_of}.", reference=reference, as_of=as_of)
    return _rows(Run.objects.filter(pk=run.pk), as_of=as_of, limit=1)[0]


def _named(reference: str) -> Run:
    named = Q(code=reference)
    if reference.isascii() and reference.isdigit() and int(reference) <= MAX_ID:
        named |= Q(pk=int(reference))
    # A code of digits only wins over the id that it looks like.
    found = sorted(Run.objects.filter(named), key=lambda run: run.code != reference)
    if not found:
        raise RunNotFoundError("There is no run {reference!r}.", reference=reference)
    return found[0]


def _state_as_of(as_of: datetime) -> dict[str, Q]:
    started, finished, cancelled = (
        Q(**{f"{name}_known_at__lte": as_of}) for name in ("started", "finished", "cancelled")
    )
    return {
        Run.State.RELEASED: ~started & ~finished & ~cancelled,
        Run.State.STARTED: started & ~finished & ~cancelled,
        Run.State.FINISHED: finished,
        Run.State.CANCELLED: cancelled,
    }


def _rows(runs: QuerySet[Run], *, as_of: datetime | None, limit: int) -> list[RunRow]:
    page = list(runs.select_related("filament", "line", "hopper", "changeover_from")[:limit])
    outputs = defaultdict(list)
    for output in RunOutput.objects.filter(run__in=page).select_related("sku__item").order_by("sku__item__code"):
        outputs[output.run_id].append(output)
    if as_of is None:
        return [_row(run, outputs[run.pk]) for run in page]
    planned = _planned_as_of(page, outputs, as_of)
    every = [output for group in planned.values() for output in group]
    allocated, in_pipeline = _allocated_as_of(every, as_of), _in_pipeline_as_of(page, as_of)
    return [_past_row(run, planned[run.pk], as_of, allocated, in_pipeline) for run in page]


def _planned_as_of(
    runs: Sequence[Run], outputs: Mapping[int, Sequence[RunOutput]], as_of: datetime
) -> dict[int, list[RunOutput]]:
    """Put back the plan known at the instant; return the outputs that were in it, by run. Two queries."""
    by_run = run_plans(runs, as_of=as_of)
    by_output = output_plans(Q(run_output__run__in=runs), as_of=as_of)
    for run in runs:
        plan = by_run[run.pk]
        run.line, run.hopper, run.changeover_from = plan.line, plan.hopper, plan.changeover_from
        run.planned_start, run.planned_end, run.drying_from = plan.planned_start, plan.planned_end, plan.drying_from
        run.changeover_min, run.planned_purge_kg = plan.changeover_min, plan.planned_purge_kg
    known = {run.pk: [output for output in outputs[run.pk] if output.pk in by_output] for run in runs}
    for output in (output for group in known.values() for output in group):
        was = by_output[output.pk]
        output.planned, output.shelf_at, output.shelf_day = was.planned, was.shelf_at, was.shelf_day
    return known


def _row(run: Run, outputs: Sequence[RunOutput]) -> RunRow:
    return RunRow(
        id=run.pk,
        code=run.code,
        filament_code=run.filament.code,
        line_code=run.line.code,
        state=run.state,
        planned_start=run.planned_start,
        planned_end=run.planned_end,
        drying_from=run.drying_from,
        hopper_code=run.hopper.code if run.hopper else None,
        changeover_from_code=run.changeover_from.code if run.changeover_from else None,
        changeover_min=run.changeover_min,
        planned_purge_kg=run.planned_purge_kg,
        started_at=run.started_at,
        finished_at=run.finished_at,
        cancelled_at=run.cancelled_at,
        real_minutes=run.real_minutes,
        purge_kg=run.purge_kg,
        mass_in_kg=run.mass_in_kg,
        mass_out_kg=run.mass_out_kg,
        is_mass_flagged=run.is_mass_flagged,
        outputs=tuple(_output_row(output) for output in outputs),
    )


def _output_row(output: RunOutput) -> RunOutputRow:
    return RunOutputRow(
        sku_code=output.sku.item.code,
        planned=output.planned,
        good=output.good,
        scrap=output.scrap,
        awaited=output.awaited,
        allocated=output.allocated,
        shelf_at=output.shelf_at,
        shelf_day=output.shelf_day,
    )


def _past_row(
    run: Run,
    outputs: Sequence[RunOutput],
    as_of: datetime,
    allocated: Mapping[int, int],
    in_pipeline: Mapping[tuple[int, int], int],
) -> RunRow:
    """Return the row without what the books learned after `as_of`."""
    row = _row(run, outputs)
    is_started, is_finished, is_cancelled = (
        known is not None and known <= as_of
        for known in (run.started_known_at, run.finished_known_at, run.cancelled_known_at)
    )
    past = [replace(old, allocated=allocated.get(new.pk, 0)) for old, new in zip(row.outputs, outputs, strict=True)]
    if is_finished:
        known = [in_pipeline.get((run.pk, output.sku_id), 0) for output in outputs]
        past = [replace(output, awaited=awaited) for output, awaited in zip(past, known, strict=True)]
    else:
        awaited_share = 0 if is_cancelled else 1
        past = [replace(output, good=None, scrap=None, awaited=output.planned * awaited_share) for output in past]
        row = replace(
            row, finished_at=None, real_minutes=None, purge_kg=None, mass_in_kg=None, mass_out_kg=None,
            is_mass_flagged=False,
        )  # fmt: skip
    return replace(
        row,
        state=_state(is_started=is_started, is_finished=is_finished, is_cancelled=is_cancelled),
        started_at=row.started_at if is_started else None,
        cancelled_at=row.cancelled_at if is_cancelled else None,
        outputs=tuple(past),
    )


def _state(*, is_started: bool, is_finished: bool, is_cancelled: bool) -> Run.State:
    if is_finished:
        return Run.State.FINISHED
    if is_cancelled:
        return Run.State.CANCELLED
    return Run.State.STARTED if is_started else Run.State.RELEASED


def _allocated_as_of(outputs: Sequence[RunOutput], as_of: datetime) -> dict[int, int]:
    """Return spools promised by run output id. One query."""
    alive = Q(ended_known_at__isnull=True) | Q(ended_known_at__gt=as_of)
    sums = (
        Allocation.objects.filter(alive, run_output__in=outputs, created_known_at__lte=as_of)
        .values_list("run_output_id")
        .annotate(Sum("quantity"))
        .order_by()
    )
    return dict(sums)


def _in_pipeline_as_of(runs: Sequence[Run], as_of: datetime) -> dict[tuple[int, int], int]:
    """Return wound spools that were not yet on the shelf, by run and SKU. One query."""
    spools: dict[tuple[int, int], int] = defaultdict(int)
    lines = MovementLine.objects.filter(
        lot__run__in=runs, item__kind=Item.Kind.SKU, movement__known_at__lte=as_of
    ).values_list("lot__run_id", "item_id", "quantity", "from_place__kind", "to_place__kind")
    for run_id, sku_id, quantity, source, target in lines:
        spools[run_id, sku_id] += int(quantity) * ((target in PIPELINE) - (source in PIPELINE))
    return spools
