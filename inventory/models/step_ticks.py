"""Steps of a changeover as the floor ticks them: a row for each tick and each taking back, never updated."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.models.runs import Run
from inventory.rules import changeover_steps as steps


class StepTick(models.Model):
    """One tick of a step of a run's changeover, or its taking back.

    `turn` counts the rows of the step of the run: the first ticks it, the second takes that back, the third ticks it
    again. So of two people at once who tick the same step, one does.
    """

    class Step(models.TextChoices):
        # Common practice, no source. What the data sheets say comes first.
        RESIN = steps.RESIN, _("Resin and its lot checked")
        CONCENTRATE = steps.CONCENTRATE, _("Concentrate and its lot checked")
        DRYING = steps.DRYING, _("Resin dried for its hours")
        DATA_SHEETS = (
            steps.DATA_SHEETS,
            _("Data sheets of both materials read: temperatures, purging, what must not meet"),
        )
        PURGE = steps.PURGE, _("Line purged, nothing left of what it held")
        LIGHTER = steps.LIGHTER, _("No streak of the darker colour in the strand")
        SETTING = steps.SETTING, _("Die, puller and gauge set for the new diameter")
        DIAMETER = steps.DIAMETER, _("Diameter in tolerance before the first spool")

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="step_ticks")
    step = models.CharField(max_length=11, choices=Step)
    turn = models.PositiveSmallIntegerField(help_text="odd: ticked, even: taken back")
    occurred_at = models.DateTimeField()
    known_at = models.DateTimeField()
    posted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["run", "step", "turn"]
        verbose_name_plural = "ticks of changeover steps"
        constraints = [
            models.UniqueConstraint(fields=["run", "step", "turn"], name="steptick_one_per_turn"),
            models.CheckConstraint(name="steptick_turns_from_one", condition=Q(turn__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.run_id} {self.step} {self.turn}"

    @property
    def is_done(self) -> bool:
        """Whether the row ticks the step; otherwise it takes the tick back."""
        return self.turn % 2 == 1
