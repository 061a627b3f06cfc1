"""The plant: lines, dryers, ovens, working time and its parameters. All of it is the plant's own data."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.catalogue import CODE, Filament, Material


class Weekday(models.IntegerChoices):
    MONDAY = 0, _("Monday")
    TUESDAY = 1, _("Tuesday")
    WEDNESDAY = 2, _("Wednesday")
    THURSDAY = 3, _("Thursday")
    FRIDAY = 4, _("Friday")
    SATURDAY = 5, _("Saturday")
    SUNDAY = 6, _("Sunday")


class PlantParameters(models.Model):
    """One row: the figures that hold for the whole plant."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=64, help_text="IANA zone")
    holiday_country = models.CharField(max_length=2, blank=True, help_text="ISO 3166-1 code; empty: none")
    holiday_subdivision = models.CharField(max_length=8, blank=True)
    target_share = models.DecimalField(
        max_digits=5, decimal_places=4, default=Decimal("0.97"), help_text="share of demand to ship on its due day"
    )
    holding_rate_per_year = models.DecimalField(max_digits=5, decimal_places=4, default=Decimal("0.20"))
    review_days = models.PositiveSmallIntegerField(default=5, help_text="ship days between two make lists")
    line_hour_cost = models.DecimalField(max_digits=8, decimal_places=2, default=Decimal(40))
    min_run_minutes = models.PositiveSmallIntegerField(default=30)
    mass_tolerance_share = models.DecimalField(max_digits=5, decimal_places=4, default=Decimal("0.02"))
    material_change_min = models.PositiveSmallIntegerField(default=60)
    diameter_change_min = models.PositiveSmallIntegerField(default=25)
    colour_change_min = models.PositiveSmallIntegerField(default=12, help_text="any change of colour")
    darker_to_lighter_min = models.DecimalField(
        max_digits=6, decimal_places=3, default=Decimal("0.5"), help_text="extra minutes per point of L* upwards"
    )
    purge_kg_per_hour = models.DecimalField(
        max_digits=6, decimal_places=2, default=Decimal(8), help_text="purged per hour of changeover"
    )
    order_target_share = models.DecimalField(
        max_digits=5,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="share of orders to ship complete on their due day; empty: every SKU has one target",
    )
    search_moves = models.IntegerField(
        default=1000, help_text="moves that a make list's search tries for each filament; 0: the list of the index"
    )
    moved_run_price = models.DecimalField(
        max_digits=6,
        decimal_places=2,
        default=Decimal(2),
        help_text="misses that planning released runs anew must avoid for each one that moves",
    )
    currency = models.CharField(max_length=3, default="EUR", help_text="ISO 4217 code")
    version = models.CharField(
        max_length=36,
        default="",
        editable=False,
        help_text="another text after each change of parameters, work days or closures; the database sets it",
    )

    class Meta:
        verbose_name_plural = "plant parameters"
        constraints = [
            models.CheckConstraint(name="plantparameters_single_row", condition=Q(id=1)),
            models.CheckConstraint(
                name="plantparameters_target_share_range", condition=Q(target_share__gt=0, target_share__lt=1)
            ),
            models.CheckConstraint(
                name="plantparameters_order_target_range",
                condition=Q(order_target_share__isnull=True) | Q(order_target_share__gt=0, order_target_share__lt=1),
            ),
            models.CheckConstraint(
                name="plantparameters_currency_is_a_code", condition=Q(currency__regex=r"^[A-Z]{3}$")
            ),
            models.CheckConstraint(name="plantparameters_review_positive", condition=Q(review_days__gt=0)),
            models.CheckConstraint(name="plantparameters_search_not_negative", condition=Q(search_moves__gte=0)),
            models.CheckConstraint(
                name="plantparameters_moved_run_price_not_negative", condition=Q(moved_run_price__gte=0)
            ),
        ]

    def __str__(self) -> str:
        return self.name


class WorkDay(models.Model):
    """The plant's clock for one weekday, local time. A weekday without a cut-off is no ship day."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday, unique=True)
    cut_off = models.TimeField(null=True, blank=True)
    pick_up = models.TimeField(null=True, blank=True, help_text="the carrier leaves")
    oven_load_at = models.TimeField(null=True, blank=True, help_text="empty: ovens are not loaded on this weekday")
    pack_from = models.TimeField(null=True, blank=True, help_text="empty: nobody packs on this weekday")
    shelf_ready = models.TimeField(null=True, blank=True, help_text="what came out of the oven is shelved by then")
    pack_spools = models.PositiveIntegerField(default=0, help_text="spools that can be packed until then")

    class Meta:
        ordering = ["weekday"]
        constraints = [
            models.CheckConstraint(
                name="workday_pick_up_after_cut_off",
                condition=Q(cut_off__isnull=True, pick_up__isnull=True) | Q(pick_up__gte=F("cut_off")),
            ),
            models.CheckConstraint(
                name="workday_shelf_ready_after_packing",
                condition=Q(pack_from__isnull=True, shelf_ready__isnull=True) | Q(shelf_ready__gt=F("pack_from")),
            ),
        ]

    def __str__(self) -> str:
        return self.get_weekday_display()


class Closure(models.Model):
    """A local day on which the plant neither ships nor runs."""

    day = models.DateField(unique=True)
    reason = models.CharField(max_length=80)

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.day} {self.reason}"


class Line(models.Model):
    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    name = models.CharField(max_length=80)
    holds = models.ForeignKey(
        Filament, null=True, blank=True, on_delete=models.PROTECT, related_name="+", help_text="in the barrel now"
    )
    extruder_kg_h = models.DecimalField(max_digits=7, decimal_places=2, help_text="limit of the extruder")
    start_up_min = models.PositiveSmallIntegerField(default=15)
    scrap_share = models.DecimalField(max_digits=5, decimal_places=4, default=Decimal("0.02"))
    availability = models.DecimalField(max_digits=5, decimal_places=4, default=Decimal("0.90"))
    runs_unattended = models.BooleanField(default=False, help_text="a started run may go on without a shift")
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(name="line_limit_positive", condition=Q(extruder_kg_h__gt=0)),
            models.CheckConstraint(name="line_scrap_range", condition=Q(scrap_share__gte=0, scrap_share__lt=1)),
            models.CheckConstraint(
                name="line_availability_range", condition=Q(availability__gt=0, availability__lte=1)
            ),
        ]

    def __str__(self) -> str:
        return self.code


class LineSpeed(models.Model):
    """A line that can make a filament, and how fast. No row: the line cannot make it."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="speeds")
    filament = models.ForeignKey(Filament, on_delete=models.PROTECT, related_name="speeds")
    speed_m_min = models.DecimalField(max_digits=6, decimal_places=2)
    strands = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["line", "filament"]
        constraints = [
            models.UniqueConstraint(fields=["line", "filament"], name="linespeed_one_per_line_and_filament"),
            models.CheckConstraint(name="linespeed_positive", condition=Q(speed_m_min__gt=0, strands__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.line} {self.filament}"


class Changeover(models.Model):
    """Minutes and purge of one pair where the plant knows better than the general rule. No line: every line."""

    line = models.ForeignKey(Line, null=True, blank=True, on_delete=models.CASCADE)
    from_filament = models.ForeignKey(Filament, on_delete=models.PROTECT, related_name="+")
    to_filament = models.ForeignKey(Filament, on_delete=models.PROTECT, related_name="+")
    minutes = models.PositiveSmallIntegerField()
    purge_kg = models.DecimalField(max_digits=7, decimal_places=3)

    class Meta:
        ordering = ["line", "from_filament", "to_filament"]
        constraints = [
            models.UniqueConstraint(
                fields=["line", "from_filament", "to_filament"],
                condition=Q(line__isnull=False),
                name="changeover_one_per_line_and_pair",
            ),
            models.UniqueConstraint(
                fields=["from_filament", "to_filament"],
                condition=Q(line__isnull=True),
                name="changeover_one_per_pair_on_every_line",
            ),
            models.CheckConstraint(name="changeover_purge_not_negative", condition=Q(purge_kg__gte=0)),
            models.CheckConstraint(name="changeover_two_filaments", condition=~Q(from_filament=F("to_filament"))),
        ]

    def __str__(self) -> str:
        return f"{self.from_filament} > {self.to_filament}"


class Dryer(models.Model):
    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class Hopper(models.Model):
    """A drying hopper: one material at a time, cleaned between two materials."""

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    dryer = models.ForeignKey(Dryer, on_delete=models.CASCADE, related_name="hoppers")
    capacity_kg = models.DecimalField(max_digits=8, decimal_places=2)
    is_continuous = models.BooleanField(default=False, help_text="refilled while it feeds the line")
    clean_min = models.PositiveSmallIntegerField(default=20)
    holds_material = models.ForeignKey(Material, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    dried_since = models.DateTimeField(null=True, blank=True, help_text="when the drying of its content began")

    class Meta:
        ordering = ["code"]
        constraints = [models.CheckConstraint(name="hopper_capacity_positive", condition=Q(capacity_kg__gt=0))]

    def __str__(self) -> str:
        return self.code


class Oven(models.Model):
    """Dries wound spools. One temperature for all spools of a load."""

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    name = models.CharField(max_length=80)
    places = models.PositiveIntegerField()
    temperature_c = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["code"]
        constraints = [models.CheckConstraint(name="oven_places_positive", condition=Q(places__gt=0))]

    def __str__(self) -> str:
        return self.code


class Shift(models.Model):
    """A window of local time in which a line may work; `crews` bounds how many changeovers run at once."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="shifts")
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    start = models.TimeField()
    end = models.TimeField(help_text="at or before the start: ends on the next day")

    class Meta:
        ordering = ["line", "weekday", "start"]
        constraints = [
            models.UniqueConstraint(fields=["line", "weekday", "start"], name="shift_one_per_line_and_start")
        ]

    def __str__(self) -> str:
        return f"{self.line} {self.get_weekday_display()} {self.start:%H:%M}-{self.end:%H:%M}"


class Crew(models.Model):
    """People who can make a changeover: `size` changeovers at once in this window."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    start = models.TimeField()
    end = models.TimeField(help_text="at or before the start: ends on the next day")
    size = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["weekday", "start"]
        constraints = [
            models.UniqueConstraint(fields=["weekday", "start"], name="crew_one_per_start"),
            models.CheckConstraint(name="crew_size_positive", condition=Q(size__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.start:%H:%M}-{self.end:%H:%M}"
