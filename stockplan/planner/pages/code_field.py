"""A field for a code, which the page's script fills with offers."""

from __future__ import annotations

from typing import Any

from django import forms
from django.urls import reverse_lazy


def code_widget(kind: str) -> forms.TextInput:
    """Return the widget of a field for a code of a kind (`selectors/offered_codes.py`)."""
    attrs: dict[str, Any] = {"data-offers": reverse_lazy("pages:offers", args=[kind]), "autocomplete": "off"}
    return forms.TextInput(attrs=attrs)
