"""What sales writes down with an order at the counter. Shape only; the service holds the rules."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.models import Channel
from inventory.rules.order_draft import MAX_REFERENCE_LENGTH, MAX_SHIP_TO_LENGTH

# What the form proposes.
KEPT_HOURS = 2


class CounterForm(forms.Form):
    """Channel, reference, address and day of an order."""

    channel = forms.ChoiceField(label=_("Channel"))
    reference = forms.CharField(
        label=_("Reference"),
        max_length=MAX_REFERENCE_LENGTH,
        help_text=_("the customer's own, or this one; sent twice it is one order"),
    )
    ship_to = forms.CharField(
        label=_("Ship to"), required=False, max_length=MAX_SHIP_TO_LENGTH, help_text=_("or for whom it is kept")
    )
    wanted_day = forms.DateField(
        label=_("Not before"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text=_("empty: as soon as it can leave"),
    )
    may_part_ship = forms.BooleanField(label=_("May leave in parts"), required=False)
    kept_until = forms.DateTimeField(
        label=_("Keep until"),
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text=_("for a visitor who has not decided; needed only to keep"),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        channels = list(Channel.objects.values_list("code", "name"))
        # Where there are several, none is taken by itself.
        choose = [("", _("choose"))] if len(channels) > 1 else []
        self.fields["channel"].choices = [*choose, *channels]  # type: ignore[attr-defined]

    @classmethod
    def begun(cls, written: Mapping[str, str]) -> CounterForm:
        """Return the form of an order with what was written so far."""
        until = timezone.localtime().replace(second=0, microsecond=0) + timedelta(hours=KEPT_HOURS)
        return cls(initial={"kept_until": until, **written})

    @classmethod
    def written_in(cls, posted: Mapping[str, str]) -> dict[str, str]:
        """Return what is written in the fields of an order, whether it is right or not."""
        return {name: posted[name] for name in cls.base_fields if name in posted}


def new_reference() -> str:
    """Return a reference that no other order has, the name of this one until somebody writes another."""
    return f"C{timezone.localtime():%y%m%d}-{secrets.token_hex(3).upper()}"
