"""`manage.py forget_answers`: delete answers that are no longer kept for repeats."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from inventory.services.answers import forget_answers


class Command(BaseCommand):
    help = "Delete the answers under Idempotency-Keys that are older than the week for which they are kept."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{forget_answers(now=timezone.now())} stored answers were forgotten.")
