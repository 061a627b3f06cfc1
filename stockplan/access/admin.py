"""Who gets in: tokens of integrations with their last use, and the apps of people. Both can only be taken away."""

from __future__ import annotations

from django.contrib import admin
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.admin.base import RecordsAdmin
from stockplan.access.models import ApiToken

# The library's own page would show the secret.
admin.site.unregister(TOTPDevice)


class TakenAwayOnly(RecordsAdmin):
    """Records that nobody adds or changes here."""

    group = "Access"
    actions = None

    def has_add_permission(self, request: HttpRequest) -> bool:  # noqa: ARG002 - the caller's signature
        return False

    def has_change_permission(self, request: HttpRequest, obj: object = None) -> bool:  # noqa: ARG002
        return False


@admin.register(ApiToken)
class ApiTokenAdmin(TakenAwayOnly):
    purpose = _("Tokens of integrations. To delete one ends its access at once.")
    list_display = ("name", "scopes", "channel", "created", "expiry", "last_used_at", "requests_per_minute")
    list_filter = ("channel",)
    list_select_related = ("channel",)
    search_fields = ("name",)
    ordering = ("name", "-created")
    fields = ("name", "user", "scopes", "channel", "created", "expiry", "last_used_at", "requests_per_minute")


@admin.register(TOTPDevice)
class SecondFactorAdmin(TakenAwayOnly):
    purpose = _("Apps that give people the code of their log-in. Delete the one of somebody who has lost it.")
    list_display = ("user", "confirmed", "created_at", "last_used_at", "throttling_failure_count")
    list_select_related = ("user",)
    search_fields = ("user__username",)
    fields = ("user", "name", "confirmed", "created_at", "last_used_at")
