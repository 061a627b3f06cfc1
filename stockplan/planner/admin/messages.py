"""Records that hold messages show them in the reader's words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import admin
from django.db import models
from django.http import HttpRequest

from inventory.admin.base import ReadOnlyAdmin, label_of
from stockplan.planner.models.messages import MessageField
from stockplan.planner.wording import said


class MessagesAdmin(ReadOnlyAdmin):
    """Shows each message as it reads, not as it is kept."""

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        """Return the fields of a record, messages in words."""
        kept = {field.name for field in self.model._meta.get_fields() if isinstance(field, MessageField)}
        return [in_words(name) if name in kept else name for name in super().get_fields(request, obj)]


def in_words(name: str) -> Callable[[Any], str]:
    """Return a column that shows the message, or the messages, of a field."""

    @admin.display(description=label_of(name))
    def column(record: models.Model) -> str:
        value = getattr(record, name)
        return " ".join(map(said, value)) if isinstance(value, list) else said(value) if value else ""

    column.__name__ = name
    return column
