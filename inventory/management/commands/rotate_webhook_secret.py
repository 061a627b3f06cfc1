"""`manage.py rotate_webhook_secret`: a new secret for a receiver of webhooks."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.errors import BooksError
from inventory.services.webhook_endpoints import rotate_secret


class Command(BaseCommand):
    help = "Print a new secret for a receiver of webhooks; the one before signs beside it for another 24 hours."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            secret = rotate_secret(name=options["name"], now=timezone.now())
        except BooksError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(secret)
