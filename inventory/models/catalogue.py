"""Catalogue: what the plant makes and sells. Setpoints are the plant's own data, never advice."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

from inventory.rules.gtin import gtin_fault
from inventory.wording import in_words

CODE = RegexValidator(r"^[A-Z0-9][A-Z0-9.-]{0,31}$", _("Use capital letters, digits, '.' and '-', at most 32."))


def validate_gtin(value: str) -> None:
    """Refuse a GTIN of the wrong form or with a wrong check digit."""
    if fault := gtin_fault(value):
        raise ValidationError(in_words(fault), code="gtin")


class Item(models.Model):
    """Anything that the ledger counts: a SKU in spools, a material in kg, a part in pieces."""

    class Kind(models.TextChoices):
        SKU = "sku", _("filament on a spool")
        RESIN = "resin", _("resin")
        CONCENTRATE = "concentrate", _("colour concentrate")
        SPOOL_PART = "spool_part", _("empty spool")
        BOX = "box", _("box")
        DESICCANT = "desiccant", _("desiccant")

    class Unit(models.TextChoices):
        SPOOL = "spool", gettext_noop("spools")
        KG = "kg", "kg"
        PIECE = "piece", gettext_noop("pieces")

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=Kind)
    unit = models.CharField(max_length=6, choices=Unit)
    lead_time_days = models.PositiveSmallIntegerField(default=0, help_text="calendar days from purchase to the store")
    pack_size = models.DecimalField(
        max_digits=10, decimal_places=3, null=True, blank=True, help_text="in the item's unit; empty: any quantity"
    )
    supplier_minimum = models.DecimalField(
        max_digits=10, decimal_places=3, default=0, help_text="least quantity of a purchase, in the item's unit"
    )

    class Meta:
        verbose_name = "raw material or part"
        verbose_name_plural = "raw materials and parts"
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                name="item_unit_fits_kind",
                condition=Q(kind="sku", unit="spool")
                | Q(kind__in=["resin", "concentrate"], unit="kg")
                | Q(kind__in=["spool_part", "box", "desiccant"], unit="piece"),
            ),
            models.CheckConstraint(
                name="item_purchase_quantities_sound",
                condition=(Q(pack_size__isnull=True) | Q(pack_size__gt=0)) & Q(supplier_minimum__gte=0),
            ),
        ]

    def __str__(self) -> str:
        return self.code


class Material(models.Model):
    """A polymer grade. Drying figures are entered from the resin supplier's data sheet."""

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    name = models.CharField(max_length=80)
    density_g_cm3 = models.DecimalField(max_digits=5, decimal_places=3)
    resin_item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="material")
    resin_dry_min_c = models.PositiveSmallIntegerField()
    resin_dry_max_c = models.PositiveSmallIntegerField()
    resin_dry_hours = models.DecimalField(max_digits=5, decimal_places=2)
    dried_keeps_hours = models.DecimalField(max_digits=6, decimal_places=2, default=Decimal(24))
    spool_dry_min_c = models.PositiveSmallIntegerField()
    spool_dry_max_c = models.PositiveSmallIntegerField()
    spool_dry_hours = models.DecimalField(max_digits=5, decimal_places=2)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(name="material_density_positive", condition=Q(density_g_cm3__gt=0)),
            models.CheckConstraint(
                name="material_drying_ranges_ordered",
                condition=Q(resin_dry_min_c__lte=F("resin_dry_max_c"), spool_dry_min_c__lte=F("spool_dry_max_c")),
            ),
            models.CheckConstraint(
                name="material_hours_not_negative",
                condition=Q(resin_dry_hours__gte=0, spool_dry_hours__gte=0, dried_keeps_hours__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Colour(models.Model):
    """A colour as sold. `lab_l` (CIELAB L*, D65) orders dark and light for changeovers."""

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    name = models.CharField(max_length=80)
    hex = models.CharField(
        max_length=7, validators=[RegexValidator(r"^#[0-9A-F]{6}$", _("Write a colour as #RRGGBB."))]
    )
    lab_l = models.DecimalField("L*", max_digits=5, decimal_places=2)
    concentrate_item = models.OneToOneField(
        Item, null=True, blank=True, on_delete=models.PROTECT, related_name="colour", help_text="empty for natural"
    )
    let_down_share = models.DecimalField(
        max_digits=5, decimal_places=4, default=Decimal(0), help_text="share of concentrate in the melt, 0.02 = 2 %"
    )

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(name="colour_l_range", condition=Q(lab_l__gte=0, lab_l__lte=100)),
            models.CheckConstraint(
                name="colour_let_down_needs_concentrate",
                condition=Q(let_down_share=0, concentrate_item__isnull=True)
                | Q(let_down_share__gt=0, let_down_share__lt=1, concentrate_item__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Diameter(models.Model):
    nominal_mm = models.DecimalField(max_digits=4, decimal_places=2, unique=True)
    tolerance_mm = models.DecimalField(max_digits=4, decimal_places=3)

    class Meta:
        ordering = ["nominal_mm"]
        constraints = [
            models.CheckConstraint(
                name="diameter_tolerance_below_nominal",
                condition=Q(tolerance_mm__gt=0, tolerance_mm__lt=F("nominal_mm")),
            )
        ]

    def __str__(self) -> str:
        return f"{self.nominal_mm} mm"


class SpoolSize(models.Model):
    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    net_g = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    give_away_g = models.PositiveIntegerField(default=0, help_text="wound on top of the net mass, on average")
    tare_g = models.PositiveIntegerField()
    spool_part = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    box_item = models.ForeignKey(Item, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    desiccant_item = models.ForeignKey(
        Item,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="one piece goes into each box",
    )
    max_temp_c = models.PositiveSmallIntegerField(help_text="highest oven temperature that the empty spool stands")
    oven_places = models.DecimalField(
        max_digits=5, decimal_places=2, default=Decimal(1), help_text="oven places taken by one spool"
    )

    class Meta:
        ordering = ["net_g"]
        constraints = [
            models.CheckConstraint(name="spoolsize_net_positive", condition=Q(net_g__gt=0)),
            models.CheckConstraint(name="spoolsize_places_positive", condition=Q(oven_places__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.net_g / 1000:g} kg"


class Filament(models.Model):
    """Material + colour + diameter: what one extrusion run makes."""

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    material = models.ForeignKey(Material, on_delete=models.PROTECT)
    colour = models.ForeignKey(Colour, on_delete=models.PROTECT)
    diameter = models.ForeignKey(Diameter, on_delete=models.PROTECT)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["material", "colour", "diameter"], name="filament_one_per_combination")
        ]

    def __str__(self) -> str:
        return self.code


class Sku(models.Model):
    """A filament on one spool size: what is sold. Its code and name live on its ledger item."""

    item = models.OneToOneField(Item, on_delete=models.PROTECT, primary_key=True, related_name="sku")
    filament = models.ForeignKey(Filament, on_delete=models.PROTECT, related_name="skus")
    spool_size = models.ForeignKey(SpoolSize, on_delete=models.PROTECT)
    gtin = models.CharField("GTIN", max_length=14, unique=True, null=True, blank=True, validators=[validate_gtin])
    is_stocked = models.BooleanField(default=True, help_text="off: made to order")
    value = models.DecimalField(max_digits=10, decimal_places=2, help_text="stock value of one spool")
    active_from = models.DateField()
    active_to = models.DateField(null=True, blank=True, help_text="last day on sale")
    shelf_place = models.CharField(max_length=16, blank=True)

    class Meta:
        verbose_name = "SKU"
        verbose_name_plural = "SKUs"
        ordering = ["item__code"]
        constraints = [
            models.UniqueConstraint(fields=["filament", "spool_size"], name="sku_one_per_filament_and_size"),
            models.CheckConstraint(name="sku_value_not_negative", condition=Q(value__gte=0)),
            models.CheckConstraint(
                name="sku_active_dates_ordered",
                condition=Q(active_to__isnull=True) | Q(active_to__gte=F("active_from")),
            ),
        ]

    def __str__(self) -> str:
        return self.item.code
