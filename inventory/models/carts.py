"""Carts: wound spools that move together, from the line into an oven and out to the packing bench."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.models.catalogue import CODE
from inventory.models.ledger import Lot
from inventory.models.runs import OvenLoad


class Cart(models.Model):
    """A cart or a stack of trays with a bar code. Where its spools lie the ledger says; this says which go together."""

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    oven_load = models.ForeignKey(
        OvenLoad,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="carts",
        help_text="empty: it waits",
    )

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class CartSpools(models.Model):
    """Spools of one lot on a cart, until they are packed or taken off."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="spools")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    spools = models.PositiveIntegerField()

    class Meta:
        verbose_name_plural = "spools on carts"
        constraints = [
            models.UniqueConstraint(fields=["cart", "lot"], name="cartspools_one_per_cart_and_lot"),
            models.CheckConstraint(name="cartspools_positive", condition=Q(spools__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.spools} {self.lot_id}"
