"""Runs as documents of the books: what was ordered from a line, what came of it, and the supply it promises."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.catalogue import Filament, Material, Sku
from inventory.models.plant import Hopper, Line, Oven


class Run(models.Model):
    """One filament on one line, wound onto one or more spool sizes without stopping."""

    class State(models.TextChoices):
        RELEASED = "released", _("released")
        STARTED = "started", _("started")
        FINISHED = "finished", _("finished")
        CANCELLED = "cancelled", _("cancelled")

    code = models.CharField(max_length=32, unique=True)
    filament = models.ForeignKey(Filament, on_delete=models.PROTECT, related_name="runs")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="runs")
    state = models.CharField(max_length=10, choices=State, default=State.RELEASED)
    planned_start = models.DateTimeField()
    planned_end = models.DateTimeField()
    hopper = models.ForeignKey(Hopper, null=True, blank=True, on_delete=models.PROTECT)
    drying_from = models.DateTimeField(null=True, blank=True, help_text="resin goes into the hopper")
    changeover_min = models.DecimalField(max_digits=7, decimal_places=1, default=Decimal(0))
    changeover_from = models.ForeignKey(Filament, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    planned_purge_kg = models.DecimalField(max_digits=9, decimal_places=3, default=Decimal(0))
    released_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    # What line and hopper held when the run started: the plant's rows say only what they hold now.
    line_held = models.ForeignKey(Filament, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    hopper_held = models.ForeignKey(Material, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    hopper_dried_since = models.DateTimeField(null=True, blank=True)
    real_minutes = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    purge_kg = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    mass_in_kg = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    mass_out_kg = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    is_mass_flagged = models.BooleanField(default=False, help_text="input and output differ by more than the tolerance")
    # What the books knew when: the two clocks of each change of state (as_of reads filter on these).
    released_known_at = models.DateTimeField()
    started_known_at = models.DateTimeField(null=True, blank=True)
    finished_known_at = models.DateTimeField(null=True, blank=True)
    cancelled_known_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["planned_start", "id"]
        constraints = [
            models.UniqueConstraint(fields=["line"], condition=Q(state="started"), name="run_one_started_per_line"),
            models.CheckConstraint(name="run_ends_after_start", condition=Q(planned_end__gte=F("planned_start"))),
            models.CheckConstraint(
                name="run_state_has_its_times",
                condition=Q(state="released", started_at__isnull=True, finished_at__isnull=True)
                | Q(state="started", started_at__isnull=False, finished_at__isnull=True)
                | Q(state="finished", started_at__isnull=False, finished_at__gte=F("started_at"))
                | Q(state="cancelled", cancelled_at__isnull=False, finished_at__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return self.code


class RunOutput(models.Model):
    """The spools of one SKU that a run makes, and how many of them are promised before they reach the shelf.

    `awaited` = spools of this run that are still to reach the shelf (planned ones before the finish,
    good ones in the pipeline after it); `allocated` of them belong to orders.
    """

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="outputs")
    sku = models.ForeignKey(Sku, on_delete=models.PROTECT, related_name="run_outputs")
    planned = models.PositiveIntegerField()
    good = models.PositiveIntegerField(null=True, blank=True)
    scrap = models.PositiveIntegerField(null=True, blank=True)
    awaited = models.PositiveIntegerField()
    allocated = models.PositiveIntegerField(default=0)
    shelf_at = models.DateTimeField(help_text="when they are expected on the shelf")
    shelf_day = models.DateField(help_text="first ship day that they can serve")

    class Meta:
        ordering = ["run", "sku"]
        constraints = [
            models.UniqueConstraint(fields=["run", "sku"], name="runoutput_one_per_run_and_sku"),
            models.CheckConstraint(name="runoutput_allocated_within_awaited", condition=Q(allocated__lte=F("awaited"))),
        ]

    def __str__(self) -> str:
        return f"{self.run_id} {self.sku_id}"


class OvenLoad(models.Model):
    """One load of an oven. Its spools are the oven-load movement that names it as document."""

    code = models.CharField(max_length=32, unique=True)
    oven = models.ForeignKey(Oven, on_delete=models.PROTECT, related_name="loads")
    loaded_at = models.DateTimeField()
    known_at = models.DateTimeField()
    temperature_c = models.PositiveSmallIntegerField()
    hours = models.DecimalField(max_digits=5, decimal_places=2)
    ready_at = models.DateTimeField()
    unloaded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["loaded_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["oven"], condition=Q(unloaded_at__isnull=True), name="ovenload_one_at_a_time"
            ),
            models.CheckConstraint(name="ovenload_ready_after_loading", condition=Q(ready_at__gte=F("loaded_at"))),
        ]

    def __str__(self) -> str:
        return self.code
