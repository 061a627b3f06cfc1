"""Count sheets: what is to be counted on the shelf, what was found, and what the books said meanwhile."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.catalogue import Sku
from inventory.models.ledger import Movement
from inventory.rules.counting import ValueClass


class CountSheet(models.Model):
    """SKUs to be counted on one round. It shows nobody what the books say before a line is settled."""

    code = models.CharField(max_length=32, unique=True)
    tolerance_share = models.DecimalField(
        max_digits=5, decimal_places=4, help_text="a difference up to this share of the books needs no second count"
    )
    opened_at = models.DateTimeField()
    known_at = models.DateTimeField(db_index=True)
    closed_at = models.DateTimeField(null=True, blank=True, help_text="what was not settled by then was dropped")
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                name="countsheet_tolerance_share_range", condition=Q(tolerance_share__gte=0, tolerance_share__lt=1)
            ),
            models.CheckConstraint(
                name="countsheet_closed_after_opening",
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("opened_at")),
            ),
        ]

    def __str__(self) -> str:
        return self.code


class CountLine(models.Model):
    """One SKU on a sheet: where it should lie, and how its count ended."""

    class State(models.TextChoices):
        OPEN = "open", _("to be counted")
        AGAIN = "again", _("to be counted again")
        SETTLED = "settled", _("settled")
        DROPPED = "dropped", _("dropped with its sheet")

    WAITING = (State.OPEN, State.AGAIN)

    sheet = models.ForeignKey(CountSheet, on_delete=models.PROTECT, related_name="lines")
    sku = models.ForeignKey(Sku, on_delete=models.PROTECT, related_name="count_lines")
    shelf_place = models.CharField(max_length=16, blank=True, help_text="as it was when the sheet was opened")
    value_class = models.CharField(max_length=1, choices=[(each.value, each.value) for each in ValueClass])
    state = models.CharField(max_length=7, choices=State, default=State.OPEN)
    counted_spools = models.PositiveIntegerField(null=True, blank=True, help_text="the count that settled it")
    book_spools = models.PositiveIntegerField(null=True, blank=True, help_text="in the books at that count")
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_known_at = models.DateTimeField(null=True, blank=True, db_index=True)
    movement = models.OneToOneField(
        Movement, null=True, blank=True, on_delete=models.PROTECT, help_text="posts the difference; empty: none"
    )

    class Meta:
        ordering = ["sheet", "shelf_place", "sku"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "sku"], name="countline_one_per_sheet_and_sku"),
            models.UniqueConstraint(
                fields=["sku"], condition=Q(state__in=["open", "again"]), name="countline_one_open_per_sku"
            ),
            models.CheckConstraint(
                name="countline_settled_has_its_count",
                condition=Q(
                    state="settled",
                    counted_spools__isnull=False,
                    book_spools__isnull=False,
                    settled_at__isnull=False,
                    settled_known_at__gte=F("settled_at"),
                )
                | Q(~Q(state="settled"), counted_spools__isnull=True, settled_known_at__isnull=True),
            ),
            models.CheckConstraint(
                name="countline_movement_only_for_a_difference",
                condition=Q(movement__isnull=True) | ~Q(counted_spools=F("book_spools")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sheet_id} {self.sku_id}"


class CountEntry(models.Model):
    """One count of a line, by one person, with what the books said at that instant."""

    line = models.ForeignKey(CountLine, on_delete=models.PROTECT, related_name="entries")
    number = models.PositiveSmallIntegerField(help_text="1: the first count")
    counted_spools = models.PositiveIntegerField()
    book_spools = models.PositiveIntegerField()
    note = models.CharField(max_length=100, blank=True)
    occurred_at = models.DateTimeField()
    known_at = models.DateTimeField()
    counted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["line", "number"]
        constraints = [
            models.UniqueConstraint(fields=["line", "number"], name="countentry_one_per_number"),
            models.CheckConstraint(name="countentry_number_from_one", condition=Q(number__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.line_id}/{self.number}"
