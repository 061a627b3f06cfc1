"""Create the groups sales, planner, floor and owner with their admin permissions."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from stockplan.access.roles import ROLES, set_up_roles


class Command(BaseCommand):
    help = "Create the groups sales, planner, floor and owner with their admin permissions; safe to repeat."

    def handle(self, *args: Any, **options: Any) -> None:
        for group in set_up_roles():
            scopes = ", ".join(sorted(ROLES[group.name].scopes))
            self.stdout.write(f"{group.name}: {group.permissions.count()} admin permissions; API: {scopes}")
