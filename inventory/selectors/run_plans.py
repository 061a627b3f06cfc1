"""The plans of runs as the books knew them at an instant: of the changes known by then, the one noted last."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q

from inventory.models import Run, RunOutputPlan, RunPlan


def run_plans(runs: Iterable[Run], *, as_of: datetime) -> dict[int, RunPlan]:
    """Return the times of runs that were planned, by run id. A run has them from its release on. One query."""
    rows = RunPlan.objects.filter(run__in=runs, known_at__lte=as_of)
    return {row.run_id: row for row in rows.order_by("id")}


def output_plans(condition: Q, *, as_of: datetime) -> dict[int, RunOutputPlan]:
    """Return what was planned of the run outputs that meet a condition, by output id, with output, run and SKU.

    Those that no plan held by then are left out. One query.
    """
    rows = RunOutputPlan.objects.filter(condition, known_at__lte=as_of)
    with_outputs = rows.select_related("run_output__run", "run_output__sku__item")
    return {row.run_output_id: row for row in with_outputs.order_by("id")}
