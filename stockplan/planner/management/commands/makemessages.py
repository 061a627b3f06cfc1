"""Collect all texts for translators, those of code without Django, broken rules and names of records as well."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.commands import makemessages

from inventory.admin.base import words_of
from inventory.plant_files.schema import PLANT_FILES
from inventory.plant_files.schema_plant import PARAMETER_KEYS
from stockplan.record_names import field_names, names_of_records

_ERROR = re.compile(r"^class (\w+Error)\(", re.MULTILINE)


class Command(makemessages.Command):
    """Django's own command, which looks for `message`, `counted` and `text` and at what errors say besides."""

    def handle(self, *args: Any, **options: Any) -> None:
        """Collect, with the names of records and fields in a source of their own for as long as it takes."""
        names = sorted(names_of_records() | {words_of(name) for name in field_names()} | _words_of_columns())
        source = Path(settings.BASE_DIR, "stockplan", "_names_for_translators.py")
        source.write_text("".join(f"gettext_noop({name!r})\n" for name in names), encoding="utf-8")
        try:
            super().handle(*args, **options)
        finally:
            source.unlink()

    @property
    def xgettext_options(self) -> list[str]:  # type: ignore[override]  # a list for all runs, there
        """Options with the names of whatever takes a template, alone or with that of the plural behind it."""
        sources = (
            Path(settings.BASE_DIR, package).rglob("*.py") for package in ("forecasting", "inventory", "stockplan")
        )
        errors = {name for files in sources for file in files for name in _ERROR.findall(file.read_text("utf-8"))}
        one = [f"--keyword={name}:1" for name in ("message", "text", *sorted(errors))]
        two = [f"--keyword={name}:1,2" for name in ("counted", "text", *sorted(errors))]
        return [*makemessages.Command.xgettext_options, *one, *two]


def _words_of_columns() -> set[str]:
    columns = [*PARAMETER_KEYS, *(column for schema in PLANT_FILES for column in schema.columns)]
    return {words for column in columns for words in (column.meaning, column.empty) if words}
