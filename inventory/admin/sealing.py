"""Seals of the ledger, to look at."""

from __future__ import annotations

from django.contrib import admin
from django.utils.translation import gettext_lazy as _

from inventory.admin.base import ReadOnlyAdmin
from inventory.models import LedgerSeal


@admin.register(LedgerSeal)
class LedgerSealAdmin(ReadOnlyAdmin):
    group = "Books"
    purpose = _(
        "Batches of movements, sealed. Note the last hash outside the database: only it tells of seals made anew."
    )
    list_display = ["number", "first_id", "last_id", "sealed_at", "seal_hash"]
    search_fields = ["seal_hash"]
    date_hierarchy = "sealed_at"
