"""Records that only services write."""

from __future__ import annotations

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest


# Generic for the type checker only: at run time the class of the admin takes no parameter.
class ReadOnlyAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    """Shows records; adds, changes and deletes none."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False
