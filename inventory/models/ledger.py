"""The ledger: immutable movements between places, and the balances derived from them.

A line of a movement moves one quantity of one item and lot from one place to another, so it is
balanced by construction. `occurred_at` is when it happened, `known_at` when the books learned of it.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.catalogue import CODE, Item, Sku


class Place(models.Model):
    """Where stock is. Physical places never go below zero; the others are the far ends of movements."""

    class Kind(models.TextChoices):
        SUPPLIER = "supplier", _("supplier")
        RESIN_STORE = "resin_store", _("resin and parts store")
        CONVERSION = "conversion", _("conversion in runs")
        WOUND = "wound", _("wound, waiting for the oven")
        OVEN = "oven", _("in an oven")
        PACKING = "packing", _("dried, waiting to be packed")
        SHELF = "shelf", _("shelf")
        HOLD = "hold", _("held for quality")
        CUSTOMER = "customer", _("customer")
        OWN_USE = "own_use", _("own use")
        SAMPLES = "samples", _("samples")
        RETURNS = "returns", _("returns, not yet inspected")
        SCRAP = "scrap", _("scrap")
        COUNT_DIFFERENCE = "count_difference", _("difference found in a count")
        OPENING = "opening", _("opening of the books")

    VIRTUAL = (
        Kind.SUPPLIER,
        Kind.CONVERSION,
        Kind.CUSTOMER,
        Kind.OWN_USE,
        Kind.SAMPLES,
        Kind.SCRAP,
        Kind.COUNT_DIFFERENCE,
        Kind.OPENING,
    )

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    kind = models.CharField(max_length=16, choices=Kind)
    oven = models.OneToOneField("inventory.Oven", null=True, blank=True, on_delete=models.PROTECT)
    is_physical = models.BooleanField()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                name="place_physical_by_kind",
                condition=Q(
                    is_physical=False,
                    kind__in=[
                        "supplier",
                        "conversion",
                        "customer",
                        "own_use",
                        "samples",
                        "scrap",
                        "count_difference",
                        "opening",
                    ],
                )
                | Q(is_physical=True, kind__in=["resin_store", "wound", "oven", "packing", "shelf", "hold", "returns"]),
            ),
            models.CheckConstraint(
                name="place_oven_only_for_ovens",
                condition=Q(kind="oven", oven__isnull=False) | (~Q(kind="oven") & Q(oven__isnull=True)),
            ),
            models.UniqueConstraint(fields=["kind"], condition=~Q(kind="oven"), name="place_one_per_kind_but_ovens"),
        ]

    def __str__(self) -> str:
        return self.code


class Lot(models.Model):
    """A traceable quantity: a delivery of material, or the spools of one SKU from one run."""

    code = models.CharField(max_length=40, unique=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="lots")
    run = models.ForeignKey("inventory.Run", null=True, blank=True, on_delete=models.PROTECT, related_name="lots")
    supplier_lot = models.CharField(max_length=60, blank=True)
    created_at = models.DateTimeField()
    is_held = models.BooleanField(default=False)

    class Meta:
        ordering = ["created_at", "id"]

    def __str__(self) -> str:
        return self.code


class Movement(models.Model):
    """The header of one movement: who moved what, when, why and on which document."""

    class Kind(models.TextChoices):
        OPENING = "opening", _("opening stock")
        RECEIPT = "receipt", _("received from a supplier")
        RUN_CONSUMPTION = "run_consumption", _("used by a run")
        RUN_OUTPUT = "run_output", _("wound by a run")
        OVEN_LOAD = "oven_load", _("loaded into an oven")
        OVEN_UNLOAD = "oven_unload", _("taken out of an oven")
        PACK = "pack", _("packed to the shelf")
        SHIPMENT = "shipment", _("shipped")
        RETURN = "return", _("returned by a customer")
        RESTOCK = "restock", _("returned goods back to the shelf")
        COUNT = "count", _("counted")
        HOLD = "hold", _("held for quality")
        HOLD_RELEASE = "hold_release", _("released from hold")
        OWN_USE = "own_use", _("own use")
        SAMPLE = "sample", _("sample")
        SCRAP = "scrap", _("scrapped")
        REVERSAL = "reversal", _("reversal of a movement")

    kind = models.CharField(max_length=16, choices=Kind)
    occurred_at = models.DateTimeField(db_index=True)
    known_at = models.DateTimeField(db_index=True)
    posted_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT)
    reason = models.CharField(max_length=200, blank=True)
    document = models.CharField(max_length=80, blank=True, help_text="delivery note, order, run or count sheet")
    run = models.ForeignKey("inventory.Run", null=True, blank=True, on_delete=models.PROTECT, related_name="movements")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversed_by")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                name="movement_reversal_names_what_it_reverses",
                condition=Q(kind="reversal", reverses__isnull=False) | (~Q(kind="reversal") & Q(reverses__isnull=True)),
            )
        ]

    def __str__(self) -> str:
        return f"{self.pk} {self.get_kind_display()}"


class MovementLine(models.Model):
    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movement_lines")
    quantity = models.DecimalField(max_digits=14, decimal_places=3)
    from_place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    to_place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    shipment_line = models.ForeignKey(
        "inventory.ShipmentLine", null=True, blank=True, on_delete=models.PROTECT, related_name="movement_lines"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(name="movementline_quantity_positive", condition=Q(quantity__gt=0)),
            models.CheckConstraint(name="movementline_two_places", condition=~Q(from_place=F("to_place"))),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.item_id}"


class Balance(models.Model):
    """Quantity of one lot at one place, kept in the transaction of the movement; rebuildable from the ledger."""

    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="balances")
    is_physical = models.BooleanField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="balances")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="balances")
    quantity = models.DecimalField(max_digits=14, decimal_places=3)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["place", "lot"], name="balance_one_per_place_and_lot"),
            models.CheckConstraint(
                name="balance_physical_not_negative", condition=Q(is_physical=False) | Q(quantity__gte=0)
            ),
        ]
        indexes = [models.Index(fields=["item", "place"])]

    def __str__(self) -> str:
        return f"{self.place_id} {self.item_id} {self.quantity}"


class ShelfStock(models.Model):
    """Per SKU: what lies on the shelf and how much of it is allocated. The row that promises are locked on."""

    sku = models.OneToOneField(Sku, on_delete=models.PROTECT, primary_key=True, related_name="shelf_stock")
    on_shelf = models.IntegerField(default=0)
    allocated = models.IntegerField(default=0)
    changed_at = models.DateTimeField(db_index=True, help_text="known_at of the last fact that changed the row")
    change_no = models.BigIntegerField(
        default=0,
        db_index=True,
        editable=False,
        help_text="of the transaction that changed the row last; the database sets it",
    )

    class Meta:
        verbose_name_plural = "shelf stock"
        constraints = [
            models.CheckConstraint(
                name="shelfstock_allocated_within_shelf",
                condition=Q(allocated__gte=0, allocated__lte=F("on_shelf")),
            )
        ]

    @property
    def free(self) -> int:
        return self.on_shelf - self.allocated

    def __str__(self) -> str:
        return f"{self.sku_id}: {self.on_shelf}"
