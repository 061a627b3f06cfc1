"""What the planner decided or knows: instructions for a filament, and announced demand."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models import Filament, Line, Material, Sku

# Less is a closed shop, more a slip of the finger.
LEAST_FACTOR, MOST_FACTOR = Decimal("0.05"), Decimal(20)


class PlannerInstruction(models.Model):
    """What the planner fixed by hand; it holds for every new list until it is withdrawn or its last day passes."""

    class Kind(models.TextChoices):
        PIN = "pin", _("make it")
        FORBID = "forbid", _("do not make it")
        RESIZE = "resize", _("make exactly so many spools")

    kind = models.CharField(max_length=6, choices=Kind)
    filament = models.ForeignKey(Filament, on_delete=models.PROTECT, related_name="instructions")
    line = models.ForeignKey(Line, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    sku = models.ForeignKey(Sku, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    spools = models.PositiveIntegerField(null=True, blank=True)
    place = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="of a pin: where on its line, counted behind the released runs"
    )
    sizes = models.JSONField(default=dict, help_text="of a pin to a place: spools by SKU code")
    last_day = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                name="plannerinstruction_resize_names_its_spools",
                condition=Q(kind="resize", sku__isnull=False, spools__isnull=False)
                | (~Q(kind="resize") & Q(sku__isnull=True, spools__isnull=True)),
            ),
            models.CheckConstraint(
                name="plannerinstruction_place_is_of_a_pin_on_a_line",
                condition=Q(place__isnull=True) | Q(kind="pin", line__isnull=False, place__gte=1),
            ),
            models.UniqueConstraint(
                fields=["filament"],
                condition=Q(withdrawn_at__isnull=True, place__isnull=True) & ~Q(kind="resize"),
                name="plannerinstruction_one_live_per_filament",
            ),
            models.UniqueConstraint(
                fields=["line", "place"],
                condition=Q(withdrawn_at__isnull=True, place__isnull=False),
                name="plannerinstruction_one_live_run_per_place",
            ),
            models.UniqueConstraint(
                fields=["sku"],
                condition=Q(withdrawn_at__isnull=True, kind="resize"),
                name="plannerinstruction_one_live_size_per_sku",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.filament_id}"


class AnnouncedDemand(models.Model):
    """What makes demand differ on some days, known beforehand: a promotion, a fair. A project order is an order."""

    name = models.CharField(max_length=80)
    first_day = models.DateField()
    last_day = models.DateField()
    factor = models.DecimalField(max_digits=5, decimal_places=2, help_text="demand on these days over the usual")
    material = models.ForeignKey(Material, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    filament = models.ForeignKey(Filament, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "announced demand"
        ordering = ["first_day", "id"]
        constraints = [
            models.CheckConstraint(name="announceddemand_days_ordered", condition=Q(first_day__lte=F("last_day"))),
            models.CheckConstraint(name="announceddemand_is_named", condition=~Q(name="")),
            models.CheckConstraint(
                name="announceddemand_factor_in_range", condition=Q(factor__gte=LEAST_FACTOR, factor__lte=MOST_FACTOR)
            ),
            models.CheckConstraint(
                name="announceddemand_one_scope", condition=Q(material__isnull=True) | Q(filament__isnull=True)
            ),
        ]

    def __str__(self) -> str:
        return self.name
