"""Webhooks: who is told of what, the outbox of messages, and how each delivery went."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.orders import Channel


class WebhookEndpoint(models.Model):
    """A receiver. One with a channel hears of that channel's orders only."""

    name = models.CharField(max_length=40, unique=True)
    url = models.CharField(max_length=500)
    events = models.JSONField(default=list, help_text="what it is told of")
    channel = models.ForeignKey(Channel, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    is_active = models.BooleanField(default=True, help_text="off: its deliveries wait")
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                name="webhookendpoint_url_scheme",
                condition=Q(url__startswith="https://") | Q(url__startswith="http://"),
            )
        ]

    def __str__(self) -> str:
        return self.name


class WebhookSecret(models.Model):
    """What a signing secret is derived from, together with a key that only the environment holds."""

    endpoint = models.ForeignKey(WebhookEndpoint, on_delete=models.PROTECT, related_name="secrets")
    salt = models.CharField(max_length=64)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField(null=True, blank=True, help_text="empty: the present one")

    class Meta:
        ordering = ["-created_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["endpoint"], condition=Q(expires_at__isnull=True), name="webhooksecret_one_present_per_endpoint"
            ),
            models.CheckConstraint(
                name="webhooksecret_expires_after_creation",
                condition=Q(expires_at__isnull=True) | Q(expires_at__gt=F("created_at")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.endpoint_id} {self.created_at:%Y-%m-%d}"


class WebhookMessage(models.Model):
    """One message of the outbox, written in the transaction of the fact that it tells of."""

    code = models.CharField(max_length=40, unique=True, help_text="webhook-id, the same in every attempt")
    event = models.CharField(max_length=40)
    body = models.TextField(help_text="the very text that is signed and sent")
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.code


class WebhookDelivery(models.Model):
    """One message on its way to one receiver."""

    class State(models.TextChoices):
        PENDING = "pending", _("waiting to be sent")
        DELIVERED = "delivered", _("delivered")
        DEAD = "dead", _("given up")

    message = models.ForeignKey(WebhookMessage, on_delete=models.PROTECT, related_name="deliveries")
    endpoint = models.ForeignKey(WebhookEndpoint, on_delete=models.PROTECT, related_name="deliveries")
    state = models.CharField(max_length=9, choices=State, default=State.PENDING)
    attempts = models.PositiveSmallIntegerField(default=0, help_text="since it was written or sent again")
    next_attempt_at = models.DateTimeField(null=True, blank=True)
    last_attempt_at = models.DateTimeField(null=True, blank=True)
    last_status = models.PositiveSmallIntegerField(null=True, blank=True, help_text="HTTP status of the last answer")
    last_error = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "webhook deliveries"
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["message", "endpoint"], name="webhookdelivery_one_per_message_and_endpoint"
            ),
            models.CheckConstraint(
                name="webhookdelivery_pending_has_its_time",
                condition=Q(state="pending", next_attempt_at__isnull=False)
                | (~Q(state="pending") & Q(next_attempt_at__isnull=True)),
            ),
        ]
        indexes = [
            models.Index(fields=["next_attempt_at"], condition=Q(state="pending"), name="webhookdelivery_due"),
        ]

    def __str__(self) -> str:
        return f"{self.message_id} > {self.endpoint_id}"
