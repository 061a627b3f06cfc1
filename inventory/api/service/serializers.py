"""Shapes of the service report."""

from __future__ import annotations

from rest_framework import serializers

from inventory.api.fields import AsOfQuery


class ServiceQuery(AsOfQuery):
    """Between which due days."""

    first = serializers.DateField(help_text="first due day")
    last = serializers.DateField(help_text="last due day")
