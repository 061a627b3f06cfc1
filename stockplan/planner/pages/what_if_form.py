"""The forms by which a planner tries a change on the newest list. Shape only; the core holds the rules."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields
from typing import Any

from django import forms
from django.utils.http import urlencode
from django.utils.translation import gettext_lazy as _

from stockplan.planner.core.whatif import CHANGES, MOST_DAYS, MOST_SPOOLS, Change, change_of
from stockplan.planner.pages.code_field import code_widget

TITLES = {
    "line_down": _("A line is down"),
    "rush_order": _("A rush order comes in"),
    "item_late": _("A material comes late"),
    "pin": _("A filament is pinned"),
    "forbid": _("A filament is forbidden"),
    "resize": _("A size is fixed by hand"),
    "replan_released": _("Released runs are planned anew"),
}
# What a field means in one change and not in another.
HINTS = {
    ("line_down", "day"): _("on which it does not run at all"),
    ("rush_order", "day"): _("on which it is to leave, or on the next ship day"),
    ("item_late", "days"): _("calendar days, today included"),
    ("pin", "line"): _("empty: any line"),
    ("resize", "spools"): _("0: none of this size"),
}


class WhatIfForm(forms.Form):
    """The fields of one kind of change. Codes are offered while they are typed."""

    filament = forms.CharField(label=_("Filament"), max_length=32, widget=code_widget("filament"))
    line = forms.CharField(label=_("Line"), max_length=32, widget=code_widget("line"))
    sku = forms.CharField(label=_("SKU"), max_length=32, widget=code_widget("sku"))
    spools = forms.IntegerField(label=_("Spools"), min_value=0, max_value=MOST_SPOOLS)
    day = forms.DateField(label=_("Day"), widget=forms.DateInput(attrs={"type": "date"}))
    item = forms.CharField(label=_("Resin or concentrate"), max_length=32, widget=code_widget("material"))
    days = forms.IntegerField(label=_("Days until it may be used"), min_value=1, max_value=MOST_DAYS)

    def __init__(self, data: Mapping[str, Any] | None = None, *, change: str) -> None:
        super().__init__(data, prefix=change)
        self.change, self.title = change, TITLES[change]
        takes = {field.name: field.default is MISSING for field in fields(CHANGES[change])}
        for name in list(self.fields):
            if name in takes:
                self.fields[name].required = takes[name]
                self.fields[name].help_text = HINTS.get((change, name), "")
            else:
                del self.fields[name]

    def made(self) -> Change:
        """Return the change of a valid form."""
        return change_of(
            self.change, {name: value for name, value in self.cleaned_data.items() if value not in {None, ""}}
        )

    @property
    def address(self) -> str:
        """Return what was typed, as the query of an address."""
        typed = {self.add_prefix(name): self.data[self.add_prefix(name)] for name in self.fields}
        return urlencode({"change": self.change, **typed})


def empty_forms() -> list[WhatIfForm]:
    """Return a form for every kind of change."""
    return [WhatIfForm(change=change) for change in TITLES]
