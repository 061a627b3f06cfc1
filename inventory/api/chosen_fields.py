"""Lists of wide rows: `fields` names the members that a client wants, and the answer holds no others."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from inventory.api.fields import PatternField, Shape


class ChosenFieldsSerializer(Shape):
    """A row of a list: of its members those that the context of the page names, all where it names none."""

    def to_representation(self, instance: Any) -> dict[str, Any]:
        """The members in the order of the row, whatever the order in which they were named."""
        row = super().to_representation(instance)
        chosen = self.context.get("fields")
        return row if chosen is None else {name: value for name, value in row.items() if name in chosen}


class FieldNamesField(PatternField):
    """Names of members of a row, parted by commas."""

    def __init__(self, row: type[ChosenFieldsSerializer]) -> None:
        names = tuple(row().get_fields())
        one = f"({'|'.join(map(re.escape, names))})"
        super().__init__(
            f"^{one}(,{one})*$",
            required=False,
            help_text="members of each row to answer, parted by commas; left out: all",
            error_messages={
                "invalid": format_lazy(_("Name members of a row, parted by commas: {names}."), names=", ".join(names))
            },
        )


def chosen_of(query: Mapping[str, Any]) -> dict[str, Any]:
    """Return the context in which the page of a list writes its rows."""
    return {"fields": set(query["fields"].split(","))} if "fields" in query else {}
