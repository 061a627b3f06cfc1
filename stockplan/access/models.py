"""Tokens of integrations: hashed, scoped, expiring; each belongs to a user without a password."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _
from knox.models import AbstractAuthToken

from inventory.models import Channel


class Scope(models.TextChoices):
    STOCK_READ = "stock:read", _("read stock and SKUs")
    ORDERS = "orders", _("read and write orders of its own channel")
    PLAN = "plan", _("compute, read and release make lists")
    FLOOR = "floor", _("report runs, oven loads, packing, counts, receipts")
    SHIP = "ship", _("report shipments")
    SERVICE_READ = "service:read", _("read the service report")
    REPLAY = "replay", _("state the time at which a fact happened and became known")


class ApiToken(AbstractAuthToken):  # type: ignore[misc]  # the library ships no types
    name = models.CharField(max_length=80)
    scopes = models.JSONField(default=list)
    channel = models.ForeignKey(
        Channel, null=True, blank=True, on_delete=models.PROTECT, help_text="orders of this channel only; empty: all"
    )
    last_used_at = models.DateTimeField(null=True, blank=True)
    requests_per_minute = models.PositiveIntegerField(
        null=True, blank=True, help_text="empty: as many as the settings say"
    )
    charged_until = models.DateTimeField(null=True, editable=False, help_text="its requests are paid for until then")

    class Meta:
        constraints = [
            models.CheckConstraint(name="apitoken_some_requests", condition=models.Q(requests_per_minute__gt=0))
        ]

    def __str__(self) -> str:
        return self.name
