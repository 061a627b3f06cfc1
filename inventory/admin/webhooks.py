"""Webhooks, to look at, and deliveries that were given up, to send again."""

from __future__ import annotations

from django.contrib import admin, messages
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin, shown
from inventory.models import WebhookDelivery, WebhookEndpoint, WebhookMessage
from inventory.services.webhook_endpoints import send_again


@admin.register(WebhookEndpoint)
class WebhookEndpointAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _(
        "Receivers of webhooks. Added, and given new secrets, on the command line: a secret is shown only there."
    )
    list_display = ["name", "url", "events", "channel", "is_active", "created_at"]
    list_filter = ["is_active"]
    list_select_related = ["channel"]
    search_fields = ["name", "url"]


@admin.register(WebhookMessage)
class WebhookMessageAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("The very texts that are signed and sent, written together with the fact that they tell of.")
    list_display = ["code", "event", "created_at"]
    list_filter = ["event"]
    search_fields = ["code", "body"]
    date_hierarchy = "created_at"


@admin.register(WebhookDelivery)
class WebhookDeliveryAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _("Messages to receivers and how each went. Those given up stay here until somebody sends them again.")
    list_display = [
        "message",
        shown("message__event", words=_("Event")),
        "endpoint",
        "state",
        "attempts",
        "last_attempt_at",
        "last_status",
        "last_error",
        "next_attempt_at",
    ]
    list_filter = ["state"]
    list_select_related = ["message", "endpoint"]
    search_fields = ["message__code", "message__body", "endpoint__name"]
    date_hierarchy = "last_attempt_at"
    actions = ["send_given_up_again"]

    @admin.action(description=_("Send those given up again"), permissions=["send_again"])
    def send_given_up_again(self, request: HttpRequest, chosen: QuerySet[WebhookDelivery]) -> None:
        """Queue them as if they were new; the receiver gets the same webhook-id."""
        number = send_again(delivery_ids=list(chosen.values_list("pk", flat=True)), now=timezone.now())
        self.message_user(
            request, gettext("%(n)d of the chosen were given up and are sent again.") % {"n": number}, messages.SUCCESS
        )

    def has_send_again_permission(self, request: HttpRequest) -> bool:
        """Whoever may change deliveries, though nobody edits one by hand."""
        return request.user.has_perm("inventory.change_webhookdelivery")
