"""`manage.py check_books`: the books checked against themselves."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.selectors.check import check_books


class Command(BaseCommand):
    help = "Compute every derived figure of the books again and print what differs; exit code 1 if anything does."

    def handle(self, *args: Any, **options: Any) -> None:
        faults = check_books()
        for fault in faults:
            self.stdout.write(str(fault))
        if faults:
            raise CommandError(f"{len(faults)} faults in the books.", returncode=1)
        self.stdout.write("The books are right.")
