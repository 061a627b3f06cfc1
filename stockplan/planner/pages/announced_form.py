"""The form by which a planner announces demand. Shape only; the service holds the rules."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

EVERYTHING, MATERIAL, FILAMENT = "", "material:", "filament:"


class AnnouncementForm(forms.Form):
    """What it is, of what, from when to when, and how many times the usual demand."""

    name = forms.CharField(label=_("What it is"), max_length=80)
    scope = forms.ChoiceField(label=_("Of what"), required=False)
    first_day = forms.DateField(label=_("First day"), widget=forms.DateInput(attrs={"type": "date"}))
    last_day = forms.DateField(label=_("Last day"), widget=forms.DateInput(attrs={"type": "date"}))
    factor = forms.DecimalField(
        label=_("Times the usual demand"),
        max_digits=5,
        decimal_places=2,
        help_text=_("2: twice as much; 0.5: half"),
        widget=forms.NumberInput(attrs={"step": "0.05"}),
    )

    def __init__(self, *args: Any, material_codes: list[str], filament_codes: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scope"].choices = [  # type: ignore[attr-defined]
            (EVERYTHING, _("everything")),
            (_("One material"), [(MATERIAL + code, code) for code in material_codes]),
            (_("One filament"), [(FILAMENT + code, code) for code in filament_codes]),
        ]

    @property
    def scoped(self) -> dict[str, str | None]:
        """Return the scope as the service takes it."""
        chosen = self.cleaned_data["scope"]
        return {
            "material_code": chosen.removeprefix(MATERIAL) if chosen.startswith(MATERIAL) else None,
            "filament_code": chosen.removeprefix(FILAMENT) if chosen.startswith(FILAMENT) else None,
        }
