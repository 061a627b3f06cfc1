"""`manage.py rebuild_balances`: balances, shelf counts and awaited spools from the ledger."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from inventory.rules.clock import Clock
from inventory.services.rebuild import rebuild_balances


class Command(BaseCommand):
    help = "Write all balances, on-shelf counts and awaited spools anew from the ledger and say how many were wrong."

    def handle(self, *args: Any, **options: Any) -> None:
        rebuilt = rebuild_balances(clock=Clock.at(timezone.now()))
        self.stdout.write(
            f"{rebuilt.balances} balances, {rebuilt.shelves} shelf counts and {rebuilt.outputs} counts of awaited "
            "spools were wrong."
        )
