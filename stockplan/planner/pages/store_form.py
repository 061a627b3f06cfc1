"""The form of a report from store and shelf. Shape only; the services hold the rules."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.models import Place
from inventory.rules.flows import ONE_OF_A_KIND
from stockplan.planner.pages.code_field import code_widget

PLACES = [(kind.value, kind.label) for kind in Place.Kind if kind in ONE_OF_A_KIND]


class StoreForm(forms.Form):
    """The fields of all reports; each report shows those that it needs, in this order."""

    item = forms.CharField(
        label=_("Code"), max_length=40, help_text=_("of the SKU, material or part"), widget=code_widget("item")
    )
    sku = forms.CharField(label=_("SKU"), max_length=40, widget=code_widget("sku"))
    place = forms.ChoiceField(label=_("Where"), choices=PLACES, initial=Place.Kind.SHELF)
    lot = forms.CharField(label=_("Lot"), max_length=40, help_text=_("as on the spool or the bag"))
    any_lot = forms.CharField(
        label=_("Lot"), max_length=40, required=False, help_text=_("empty: the oldest lots first")
    )
    supplier_lot = forms.CharField(label=_("The supplier's own code of the lot"), max_length=80, required=False)
    quantity = forms.DecimalField(
        label=_("How much"), min_value=0, max_digits=10, decimal_places=3, help_text=_("spools, kg or pieces")
    )
    spools = forms.IntegerField(label=_("Spools"), min_value=1, max_value=100_000)
    document = forms.CharField(label=_("Delivery note"), max_length=80, required=False)
    reason = forms.CharField(label=_("Why"), max_length=200)

    def __init__(self, *args: Any, shows: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in set(self.fields) - set(shows):
            del self.fields[name]
