"""The plan of a run as it stood over time: a row for each change, never updated.

`Run` and `RunOutput` hold the plan that stands now; a read as of a past instant takes the last row known by then.
"""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from inventory.models.catalogue import Filament
from inventory.models.plant import Hopper, Line
from inventory.models.runs import Run, RunOutput


class RunPlan(models.Model):
    """When, where and after what a run was to be made, from one change of its plan to the next."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="plans")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")
    planned_start = models.DateTimeField()
    planned_end = models.DateTimeField()
    hopper = models.ForeignKey(Hopper, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    drying_from = models.DateTimeField(null=True, blank=True)
    changeover_from = models.ForeignKey(Filament, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    changeover_min = models.DecimalField(max_digits=7, decimal_places=1, default=Decimal(0))
    planned_purge_kg = models.DecimalField(max_digits=9, decimal_places=3, default=Decimal(0))
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
