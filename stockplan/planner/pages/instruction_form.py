"""The form by which a planner pins, forbids or resizes a filament. Shape only; the services hold the rules."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from stockplan.planner.selectors.filaments import FilamentDetail


class InstructionForm(forms.Form):
    """Line, last day and note of an instruction; for a size also its SKU and spools."""

    line = forms.ChoiceField(label=_("Line"), required=False)
    sku = forms.ChoiceField(label=_("Size"))
    spools = forms.IntegerField(label=_("Spools"), min_value=0, max_value=100_000)
    last_day = forms.DateField(
        label=_("Last day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text=_("empty: until withdrawn"),
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=200)

    def __init__(self, *args: Any, filament: FilamentDetail, shows: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["line"].choices = [("", _("any line")), *((code, code) for code in filament.line_codes)]  # type: ignore[attr-defined]
        self.fields["sku"].choices = [(size.sku_code, size.name) for size in filament.sizes]  # type: ignore[attr-defined]
        for name in set(self.fields) - set(shows):
            del self.fields[name]
