"""Collect all texts for translators, those of code without Django as well."""

from __future__ import annotations

from django.core.management.commands import makemessages


class Command(makemessages.Command):
    """Django's own command, which looks for `message` and `counted` of `forecasting.messages` besides."""

    xgettext_options = [*makemessages.Command.xgettext_options, "--keyword=message:1", "--keyword=counted:1,2"]
