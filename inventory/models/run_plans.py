"""The plan of a run as it stood over time: a row for each change, never updated.

`Run` and `RunOutput` hold the plan that stands now; a read as of a past instant takes the last row known by then.
"""

from __future__ import annotations

from django.db import models

from inventory.models.runs import Run, RunOutput


class RunPlan(models.Model):
    """When a run was to be made, from one change of its plan to the next."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="plans")
    planned_start = models.DateTimeField()
    planned_end = models.DateTimeField()
    drying_from = models.DateTimeField(null=True, blank=True)
    occurred_at = models.DateTimeField()
    known_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.run_id} {self.planned_start.isoformat()}"


class RunOutputPlan(models.Model):
    """How many spools of a SKU a run was to wind, and when they were to reach the shelf, from change to change."""

    run_output = models.ForeignKey(RunOutput, on_delete=models.PROTECT, related_name="plans")
    planned = models.PositiveIntegerField()
    shelf_at = models.DateTimeField()
    shelf_day = models.DateField()
    occurred_at = models.DateTimeField()
    known_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.run_output_id} {self.planned} {self.shelf_day}"
