"""Collect all texts for translators, those of code without Django and of broken rules as well."""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings
from django.core.management.commands import makemessages

_ERROR = re.compile(r"^class (\w+Error)\(", re.MULTILINE)


class Command(makemessages.Command):
    """Django's own command, which looks for `message`, `counted` and `text` and at what errors say besides."""

    @property
    def xgettext_options(self) -> list[str]:  # type: ignore[override]  # a list for all runs, there
        """Options with the names of whatever takes a template, alone or with that of the plural behind it."""
        sources = (Path(settings.BASE_DIR, package).rglob("*.py") for package in ("inventory", "stockplan"))
        errors = {name for files in sources for file in files for name in _ERROR.findall(file.read_text("utf-8"))}
        one = [f"--keyword={name}:1" for name in ("message", "text", *sorted(errors))]
        two = [f"--keyword={name}:1,2" for name in ("counted", "text", *sorted(errors))]
        return [*makemessages.Command.xgettext_options, *one, *two]
