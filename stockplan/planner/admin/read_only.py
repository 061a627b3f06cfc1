"""Records that only services write."""

from __future__ import annotations

from typing import TypeVar

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

Record = TypeVar("Record", bound=Model)


class ReadOnlyAdmin(admin.ModelAdmin[Record]):
    """Shows records; adds, changes and deletes none."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Record | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Record | None = None) -> bool:
        return False
