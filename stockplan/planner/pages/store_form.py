"""The form of a report from store and shelf. Shape only; the services hold the rules."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.models import Place
from inventory.rules.flows import ONE_OF_A_KIND
from inventory.selectors.scans import item_code_of_scan, lot_code_of_scan
from stockplan.planner.pages.code_field import code_widget

# A code of the books has 40 letters at most, what a scanner types of a label's DataMatrix some more.
MAX_SCAN_LENGTH = 80
PLACES = [(kind.value, kind.label) for kind in Place.Kind if kind in ONE_OF_A_KIND]


class StoreForm(forms.Form):
    """The fields of all reports; each report shows those that it needs, in this order."""

    item = forms.CharField(
        label=_("Code"),
        max_length=MAX_SCAN_LENGTH,
        help_text=_("of the SKU, material or part"),
        widget=code_widget("item"),
    )
    sku = forms.CharField(label=_("SKU"), max_length=MAX_SCAN_LENGTH, widget=code_widget("sku"))
    place = forms.ChoiceField(label=_("Where"), choices=PLACES, initial=Place.Kind.SHELF)
    lot = forms.CharField(label=_("Lot"), max_length=MAX_SCAN_LENGTH, help_text=_("as on the spool or the bag"))
    any_lot = forms.CharField(
        label=_("Lot"), max_length=MAX_SCAN_LENGTH, required=False, help_text=_("empty: the oldest lots first")
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

    def clean(self) -> dict[str, Any]:
        """Take what a scanner typed of a label for the SKU and the lot that it means."""
        cleaned: dict[str, Any] = super().clean() or {}
        codes = [name for name in ("item", "sku") if cleaned.get(name)]
        cleaned |= {name: item_code_of_scan(cleaned[name]) for name in codes}
        item_code = cleaned[codes[0]] if codes else ""
        lots = [name for name in ("lot", "any_lot") if cleaned.get(name)]
        return cleaned | {name: lot_code_of_scan(cleaned[name], item_code=item_code) for name in lots}
