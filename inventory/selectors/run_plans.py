"""The plans of runs as the books knew them at an instant: of the changes known by then, the one noted last."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import OuterRef, Q, Subquery
from django.db.models.lookups import Exact

from inventory.models import Run, RunOutputPlan, RunPlan


def run_plans(runs: Iterable[Run], *, as_of: datetime) -> dict[int, RunPlan]:
    """Return the plans of runs with line, hopper and what was to be before, by run id. One query.

    A run has a plan from its release on.
    """
    rows = RunPlan.objects.filter(run__in=runs, known_at__lte=as_of)
    return {row.run_id: row for row in rows.select_related("line", "hopper", "changeover_from").order_by("id")}


def planned_on(line_code: str, *, as_of: datetime) -> Q:
    """Return the condition that a run was planned on a line then."""
    known = RunPlan.objects.filter(run=OuterRef("pk"), known_at__lte=as_of).order_by("-id")
    return Q(Exact(Subquery(known.values("line__code")[:1]), line_code))


def output_plans(condition: Q, *, as_of: datetime) -> dict[int, RunOutputPlan]:
    """Return what was planned of the run outputs that meet a condition, by output id, with output, run and SKU.

    Those that no plan held by then are left out. One query.
    """
    rows = RunOutputPlan.objects.filter(condition, known_at__lte=as_of)
    with_outputs = rows.select_related("run_output__run", "run_output__sku__item")
    return {row.run_output_id: row for row in with_outputs.order_by("id")}
