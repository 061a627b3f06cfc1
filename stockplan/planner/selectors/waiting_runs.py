"""Runs that wait for the floor or are under way."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from django.db.models import Prefetch

from inventory.models import Run, RunOutput

WAITING = (Run.State.RELEASED, Run.State.STARTED)


@dataclass(frozen=True)
class WaitingRun:
    """A run that is released or started, as the list of run cards shows it."""

    code: str
    line: str
    state: str
    filament_code: str
    material_name: str
    colour_name: str
    colour_hex: str
    diameter_mm: float
    planned_start: datetime
    planned_end: datetime
    hopper_code: str | None
    drying_from: datetime | None
    sizes: tuple[tuple[int, int], ...]
    """(net mass in g, planned spools) of each size."""


def waiting_runs() -> list[tuple[str, list[WaitingRun]]]:
    """Return the waiting runs of every line that has some, by line and start. Two queries."""
    runs = (
        Run.objects.filter(state__in=WAITING)
        .select_related("line", "hopper", "filament__material", "filament__colour", "filament__diameter")
        .prefetch_related(Prefetch("outputs", RunOutput.objects.select_related("sku__spool_size")))
        .order_by("line__code", "planned_start", "id")
    )
    rows = [_waiting_run(run) for run in runs]
    return [(line, list(group)) for line, group in groupby(rows, key=lambda row: row.line)]


def waiting_run_count() -> int:
    """Return how many runs are released or started. One query."""
    return Run.objects.filter(state__in=WAITING).count()


def _waiting_run(run: Run) -> WaitingRun:
    filament = run.filament
    return WaitingRun(
        code=run.code,
        line=f"{run.line.code} {run.line.name}",
        state=str(run.get_state_display()),
        filament_code=filament.code,
        material_name=filament.material.name,
        colour_name=filament.colour.name,
        colour_hex=filament.colour.hex,
        diameter_mm=float(filament.diameter.nominal_mm),
        planned_start=run.planned_start,
        planned_end=run.planned_end,
        hopper_code=run.hopper.code if run.hopper else None,
        drying_from=run.drying_from,
        sizes=tuple(sorted((output.sku.spool_size.net_g, output.planned) for output in run.outputs.all())),
    )
