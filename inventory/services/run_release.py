"""The release of a run: its spools are promised from then on."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Filament, Hopper, Line, LineSpeed, Run, RunOutput
from inventory.rules.clock import Clock
from inventory.services.allocations import lock_supply
from inventory.services.promises import promise_waiting_lines
from inventory.services.run_plans import check_planned_times, note_output_plans, note_run_plan
from inventory.services.run_records import skus_of_run
from inventory.services.run_supply import calendar_from, shelf_time
from inventory.services.transactions import in_one_transaction


@in_one_transaction
def release_run(
    *,
    filament_code: str,
    line_code: str,
    spools: Mapping[str, int],
    planned_start: datetime,
    planned_end: datetime,
    clock: Clock,
    drying_from: datetime | None = None,
    hopper_code: str | None = None,
    changeover_from_code: str | None = None,
    changeover_min: Decimal = Decimal(0),
    planned_purge_kg: Decimal = Decimal(0),
    posted_by: AbstractBaseUser | None = None,
) -> Run:
    """Order a run from a line. Its spools are supply at once: waiting orders are promised of them.

    Raises
    ------
    NotFoundError
        If filament, line, hopper or a SKU do not exist.
    InvalidInputError
        If the line cannot make the filament, a SKU is of another one, no spools are ordered, or times, minutes or
        purge are wrong.
    """
    filament, line = _filament(filament_code), _line_for(filament_code, line_code)
    skus = skus_of_run(filament, spools, pointer="/spools")
    if not skus or not all(spools[code] > 0 for code in skus):
        raise InvalidInputError("A run needs at least one SKU, and each at least one spool.", pointer="/spools")
    check_planned_times(planned_start, planned_end)
    if changeover_min < 0 or planned_purge_kg < 0:
        raise InvalidInputError(
            "Changeover {changeover_min} min and purge {planned_purge_kg} kg must not be negative.",
            changeover_min=changeover_min,
            planned_purge_kg=planned_purge_kg,
            pointer="/changeover_min" if changeover_min < 0 else "/planned_purge_kg",
        )
    run = Run.objects.create(
        code=uuid.uuid4().hex,
        filament=filament,
        line=line,
        planned_start=planned_start,
        planned_end=planned_end,
        hopper=_hopper(hopper_code),
        drying_from=drying_from,
        changeover_min=changeover_min,
        changeover_from=None if changeover_from_code is None else _filament(changeover_from_code),
        planned_purge_kg=planned_purge_kg,
        released_at=clock.occurred_at,
        released_known_at=clock.known_at,
        released_by_id=None if posted_by is None else posted_by.pk,
    )
    # The number comes from the database, so that two releases at once never share a code.
    run.code = f"R{run.pk:06d}"
    run.save(update_fields=["code"])
    shelf_at, shelf_day = shelf_time(run, wound_at=planned_end, calendar=calendar_from(planned_end))
    lock_supply(sku_ids=[sku.pk for sku in skus.values()], clock=clock)
    outputs = RunOutput.objects.bulk_create(
        RunOutput(run=run, sku=sku, planned=spools[code], awaited=spools[code], shelf_at=shelf_at, shelf_day=shelf_day)
        for code, sku in sorted(skus.items())
    )
    note_run_plan(run, clock=clock)
    note_output_plans(outputs, clock=clock)
    promise_waiting_lines(sku_ids=[sku.pk for sku in skus.values()], clock=clock)
    return run


def _filament(code: str) -> Filament:
    filament = Filament.objects.select_related("material", "colour").filter(code=code).first()
    if filament is None:
        raise NotFoundError("Filament {code!r} does not exist.", code=code, pointer="/filament")
    return filament


def _line_for(filament_code: str, line_code: str) -> Line:
    line = Line.objects.filter(code=line_code).first()
    if line is None:
        raise NotFoundError("Line {line!r} does not exist.", line=line_code, pointer="/line")
    if not LineSpeed.objects.filter(line=line, filament__code=filament_code).exists():
        raise InvalidInputError(
            "Line {line} has no speed for {filament}: it cannot make it.",
            line=line_code,
            filament=filament_code,
            pointer="/line",
        )
    return line


def _hopper(code: str | None) -> Hopper | None:
    if code is None:
        return None
    hopper = Hopper.objects.filter(code=code).first()
    if hopper is None:
        raise NotFoundError("Hopper {code!r} does not exist.", code=code, pointer="/hopper")
    return hopper
