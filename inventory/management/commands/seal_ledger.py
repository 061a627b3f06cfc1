"""`manage.py seal_ledger`: seal what was posted since the last seal."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.errors import BooksError
from inventory.services.sealing import seal_ledger


class Command(BaseCommand):
    help = (
        "Seal the movements that are not sealed yet, in batches, each chained to the one before. Run it from a timer, "
        "and note the hash that it prints outside the database."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            seals = seal_ledger(sealed_at=timezone.now())
        except BooksError as error:
            raise CommandError(str(error)) from error
        for seal in seals:
            self.stdout.write(f"{seal.number}:{seal.seal_hash} movements {seal.first_id} to {seal.last_id}")
        if not seals:
            self.stdout.write("Nothing new to seal.")
