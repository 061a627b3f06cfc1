"""What the admin pages of the books share: words for fields, colour swatches, records that only services write."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar

from django.contrib import admin
from django.db import models
from django.forms import Field
from django.http import HttpRequest
from django.utils.formats import number_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy, gettext_noop

from inventory.plant_files.columns import Column, Kind

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise as StrPromise

_HEX = re.compile(r"#[0-9A-Fa-f]{6}")
# The unit at the end of a field's name, as people write it.
_UNITS = {
    "_g_cm3": "g/cm³",
    "_kg_per_hour": "kg/h",
    "_kg_h": "kg/h",
    "_m_min": "m/min",
    "_min_c": gettext_noop("lowest, °C"),
    "_max_c": gettext_noop("highest, °C"),
    "_per_year": gettext_noop("share per year"),
    "_temp_c": "°C",
    "_c": "°C",
    "_hours": "h",
    "_minutes": "min",
    "_days": gettext_noop("days"),
    "_share": gettext_noop("share"),
    "_spools": gettext_noop("spools"),
    "_kg": "kg",
    "_min": "min",
    "_mm": "mm",
    "_g": "g",
}
_WORDS = {
    "lab_l": gettext_noop("Lightness L*"),
    "gtin": gettext_noop("GTIN"),
    "hex": gettext_noop("Colour code"),
    "max_temp_c": gettext_noop("Highest oven temperature (°C)"),
}


def words_of(name: str) -> str:
    """Return the words for a field in English, without its unit, as translators are given them.

    Examples
    --------
    >>> words_of("density_g_cm3"), words_of("spool_dry_min_c"), words_of("is_active")
    ('Density', 'Spool dry', 'Active')
    """
    if name in _WORDS:
        return _WORDS[name]
    words = name.removesuffix(_unit_at_the_end(name)).replace("_", " ").removeprefix("is ")
    return words[:1].upper() + words[1:]


def label_of(name: str) -> StrPromise:
    """Return the words for a field in the reader's language, its unit in brackets.

    Examples
    --------
    >>> print(label_of("density_g_cm3"), label_of("spool_dry_min_c"), label_of("active_from"), sep="; ")
    Density (g/cm³); Spool dry (lowest, °C); Active from
    """
    words, unit = gettext_lazy(words_of(name)), "" if name in _WORDS else _unit_at_the_end(name)
    return format_lazy("{words} ({unit})", words=words, unit=gettext_lazy(_UNITS[unit])) if unit else words


def _unit_at_the_end(name: str) -> str:
    return next((ending for ending in _UNITS if name.endswith(ending)), "")


def help_of(column: Column, *, may_be_empty: bool) -> str:
    """Return the help text of a form field: what it means and, where it may be empty, what that means."""
    meaning = gettext(column.meaning)
    meaning = meaning[:1].upper() + meaning[1:]
    if not may_be_empty or column.kind is Kind.YES_NO:
        return f"{meaning}."
    empty = gettext(column.empty) if column.empty else ""
    return gettext("%(meaning)s. Empty: %(empty)s.") % {"meaning": meaning, "empty": empty}


def swatch(hex_colour: str, *, label: str = "") -> SafeString:
    """Return a small square in a colour. A fill attribute, no style: pages run under a strict content policy.

    Anything but a colour gives no square: the code may come from a file.
    """
    if not _HEX.fullmatch(hex_colour):
        return format_html("<span>{}</span>", label or hex_colour)
    return format_html(
        '<svg class="swatch" width="18" height="18" viewBox="0 0 24 24" aria-hidden="true" focusable="false">'
        '<rect x="1" y="1" width="22" height="22" rx="4" fill="{}" stroke="#767676"></rect></svg> {}',
        hex_colour,
        label,
    )


def shown(
    name: str, *, words: str | StrPromise = "", decimals: int | None = None, is_claim: bool = False
) -> Callable[[Any], Any]:
    """Return a list column that shows a field under its words; a claim is shown by a sign for yes or no."""

    @admin.display(description=words or label_of(name), ordering=name, boolean=is_claim)
    def column(record: models.Model) -> Any:
        value: Any = record
        for part in name.split("__"):
            value = getattr(value, part, None)
        # Rounded first: number_format cuts off.
        return value if decimals is None or value is None else number_format(f"{value:.{decimals}f}")

    column.__name__ = name
    return column


def filter_of(name: str, *, words: str | StrPromise = "") -> tuple[str, type[admin.FieldListFilter]]:
    """Return a list filter of a field under its words."""

    class Worded(admin.FieldListFilter):
        """Gives the filter that fits the field, with its words as title."""

        def __new__(cls, *args: Any, **kwargs: Any) -> Any:
            made = admin.FieldListFilter.create(*args, **kwargs)
            made.title = words or label_of(name).lower()
            return made

    return name, Worded


def worded(field: Field | None, column: Column | None) -> Field | None:
    """Give a form field its words."""
    if field is not None and column is not None:
        field.label = label_of(column.name)
        field.help_text = help_of(column, may_be_empty=not field.required)
    return field


# Generic for the type checker only: at run time these classes take no parameter.
class RecordsAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    """A list of records that says what it is for, in a group of the entry page."""

    group: ClassVar[str]
    purpose: ClassVar[str | StrPromise]
    show_facets = admin.ShowFacets.NEVER


class ReadOnlyAdmin(RecordsAdmin):
    """Shows records that only services write. A correction is a new movement, never an edit."""

    show_full_result_count = False
    list_per_page = 50

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False


class ReadOnlyInline(admin.TabularInline):  # type: ignore[type-arg]
    """Shows the rows of a record."""

    extra = 0
    can_delete = False
    # Keys whose text the rows show; without them every row would cost a query.
    related: tuple[str, ...] = ()

    def get_queryset(self, request: HttpRequest) -> models.QuerySet[Any]:
        rows: models.QuerySet[Any] = super().get_queryset(request)
        return rows.select_related(*self.related) if self.related else rows

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
