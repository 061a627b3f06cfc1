"""remove_second_factor: let somebody in by the password alone who has lost the app."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError, CommandParser

from stockplan.access.second_factor import remove_second_factor


class Command(BaseCommand):
    help = "Take the second factor off a person's log-in. Make sure who asks for it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="user name")

    def handle(self, *, name: str, **_options: Any) -> None:
        user = User.objects.filter(username=name).first()
        if user is None:
            raise CommandError(f"There is nobody called {name!r}.")
        if not remove_second_factor(user, by=None):
            raise CommandError(f"{name} has no second factor.")
        self.stdout.write(f"{name} logs in by the password alone from now on.")
