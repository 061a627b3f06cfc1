"""Orders and promises. Every change of a line's quantity is a row of its own, so that any past instant can be read."""

from __future__ import annotations

from typing import TypeVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.catalogue import CODE, Sku
from inventory.models.runs import RunOutput

Ordering = TypeVar("Ordering", bound=models.Model)


class Channel(models.Model):  # type: ignore[django-manager-missing]  # the tokens' base class ships no types
    """Where orders come from."""

    code = models.CharField(max_length=32, unique=True, validators=[CODE])
    name = models.CharField(max_length=80)
    hides_unavailable = models.BooleanField(
        default=False, help_text="shows no goods without free stock (censors demand)"
    )

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class OrderedManager(models.Manager[Ordering]):
    """Rows of what was ordered: what is only kept for a visitor is no demand and no promise."""

    def __init__(self, kind: str) -> None:
        super().__init__()
        self._kind = kind

    def get_queryset(self) -> models.QuerySet[Ordering]:
        """Leave out the rows whose kind, by this path, is `kept`."""
        return super().get_queryset().exclude(**{self._kind: Order.Kind.KEPT})


class Order(models.Model):
    class State(models.TextChoices):
        OPEN = "open", _("open")
        SHIPPED = "shipped", _("shipped")
        CANCELLED = "cancelled", _("cancelled")

    class Kind(models.TextChoices):
        REGULAR = "regular", _("regular")
        PROJECT = "project", _("project")
        OWN_USE = "own_use", _("own use")
        KEPT = "kept", _("kept for a visitor")

    channel = models.ForeignKey(Channel, on_delete=models.PROTECT, related_name="orders")
    reference = models.CharField(max_length=64)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.REGULAR)
    received_at = models.DateTimeField(db_index=True)
    known_at = models.DateTimeField(db_index=True)
    wanted_day = models.DateField(null=True, blank=True)
    kept_until = models.DateTimeField(
        null=True, blank=True, db_index=True, help_text="kept for a visitor: from then on its spools go back"
    )
    due_day = models.DateField(db_index=True, help_text="fixed at receipt")
    may_part_ship = models.BooleanField(default=False)
    state = models.CharField(max_length=9, choices=State, default=State.OPEN, db_index=True)
    ship_to = models.CharField(max_length=200, blank=True)
    body_digest = models.CharField(max_length=64, help_text="SHA-256 of the request, to tell a repeat from a clash")
    is_history = models.BooleanField(default=False, help_text="loaded with its outcome; has no movements")
    cancelled_by = models.CharField(
        max_length=8, blank=True, choices=[("customer", _("customer")), ("shop", _("shop"))]
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_known_at = models.DateTimeField(null=True, blank=True)

    objects = models.Manager["Order"]()
    ordered = OrderedManager["Order"]("kind")

    class Meta:
        ordering = ["received_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["channel", "reference"], name="order_reference_unique_per_channel"),
            models.CheckConstraint(
                name="order_closed_has_its_time",
                condition=Q(state="open", closed_at__isnull=True) | (~Q(state="open") & Q(closed_at__isnull=False)),
            ),
            models.CheckConstraint(
                name="order_kept_has_its_end",
                condition=Q(kind="kept", kept_until__isnull=False, kept_until__gt=F("received_at"))
                | (~Q(kind="kept") & Q(kept_until__isnull=True)),
            ),
            models.CheckConstraint(name="order_kept_never_ships", condition=~Q(kind="kept", state="shipped")),
        ]

    def __str__(self) -> str:
        return f"{self.channel_id}/{self.reference}"


class OrderLine(models.Model):
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lines")
    line_no = models.PositiveSmallIntegerField()
    sku = models.ForeignKey(Sku, on_delete=models.PROTECT, related_name="order_lines")
    quantity = models.PositiveIntegerField(help_text="as it stands; 0 after a cancellation")
    shipped = models.PositiveIntegerField(default=0)
    promised_day = models.DateField(null=True, blank=True, help_text="empty: no supply is planned for all of it")
    quoted_day = models.DateField(null=True, blank=True, help_text="made to order: the day first promised")
    shipped_complete_day = models.DateField(null=True, blank=True)

    objects = models.Manager["OrderLine"]()
    ordered = OrderedManager["OrderLine"]("order__kind")

    class Meta:
        ordering = ["order", "line_no"]
        constraints = [
            models.UniqueConstraint(fields=["order", "line_no"], name="orderline_number_unique_in_order"),
            models.UniqueConstraint(fields=["order", "sku"], name="orderline_sku_unique_in_order"),
            models.CheckConstraint(name="orderline_shipped_within_quantity", condition=Q(shipped__lte=F("quantity"))),
        ]

    def __str__(self) -> str:
        return f"{self.order_id}#{self.line_no}"


class OrderLineChange(models.Model):
    """One change of a line's quantity. Their sum up to an instant is what was ordered as of it."""

    class Reason(models.TextChoices):
        PLACED = "placed", _("placed")
        AMENDED = "amended", _("amended by the customer")
        CANCELLED_BY_CUSTOMER = "cancelled_by_customer", _("cancelled by the customer")
        CANCELLED_BY_SHOP = "cancelled_by_shop", _("cancelled by the shop")

    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="changes")
    delta = models.IntegerField()
    reason = models.CharField(max_length=21, choices=Reason)
    occurred_at = models.DateTimeField()
    known_at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(name="orderlinechange_not_zero", condition=~Q(delta=0))]

    def __str__(self) -> str:
        return f"{self.order_line_id} {self.delta:+d}"


class Allocation(models.Model):
    """Spools that belong to an order line: from the shelf (no run output) or from the supply of a run."""

    class End(models.TextChoices):
        SHIPPED = "shipped", _("shipped")
        SHELVED = "shelved", _("its supply reached the shelf")
        RELEASED = "released", _("given back by the order")
        TAKEN = "taken", _("taken by a count, hold, scrap or a run that failed")
        REPLACED = "replaced", _("replaced by one of another quantity or an earlier supply")

    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="allocations")
    run_output = models.ForeignKey(
        RunOutput, null=True, blank=True, on_delete=models.PROTECT, related_name="allocations"
    )
    quantity = models.PositiveIntegerField()
    created_at = models.DateTimeField()
    created_known_at = models.DateTimeField(db_index=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_known_at = models.DateTimeField(null=True, blank=True)
    end = models.CharField(max_length=8, choices=End, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(name="allocation_quantity_positive", condition=Q(quantity__gt=0)),
            models.CheckConstraint(
                name="allocation_end_has_its_time",
                condition=Q(end="", ended_at__isnull=True) | (~Q(end="") & Q(ended_at__isnull=False)),
            ),
            models.UniqueConstraint(
                fields=["order_line", "run_output"],
                condition=Q(end="", run_output__isnull=False),
                name="allocation_one_live_per_line_and_supply",
            ),
            models.UniqueConstraint(
                fields=["order_line"],
                condition=Q(end="", run_output__isnull=True),
                name="allocation_one_live_per_line_from_shelf",
            ),
        ]
        indexes = [models.Index(fields=["order_line"], condition=Q(end=""), name="allocation_live")]

    def __str__(self) -> str:
        return f"{self.order_line_id} {self.quantity}"


class PromiseChange(models.Model):
    """A promise that moved: for sales, with old and new day and the cause."""

    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="promise_changes")
    old_day = models.DateField(null=True, blank=True)
    new_day = models.DateField(null=True, blank=True)
    cause = models.CharField(max_length=200)
    occurred_at = models.DateTimeField()
    known_at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.order_line_id}: {self.old_day} > {self.new_day}"


class Shipment(models.Model):
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="shipments")
    ship_day = models.DateField()
    shipped_at = models.DateTimeField()
    known_at = models.DateTimeField(db_index=True)
    document = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["shipped_at", "id"]

    def __str__(self) -> str:
        return f"{self.order_id} {self.ship_day}"


class ShipmentLine(models.Model):
    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="lines")
    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="shipment_lines")
    quantity = models.PositiveIntegerField()

    class Meta:
        ordering = ["shipment", "order_line"]
        constraints = [
            models.UniqueConstraint(fields=["shipment", "order_line"], name="shipmentline_one_per_line"),
            models.CheckConstraint(name="shipmentline_quantity_positive", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.shipment_id} {self.quantity}"
