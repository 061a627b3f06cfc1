"""`manage.py add_webhook`: a receiver of webhooks, and the secret to hand to it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.errors import BooksError
from inventory.rules.webhooks import Event, encoded_secret
from inventory.services.webhook_endpoints import add_endpoint, live_secrets


class Command(BaseCommand):
    help = "Add a receiver of webhooks and print the secret by which it checks their signatures."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name")
        parser.add_argument("url", help="https://...; http:// within an allowed network only")
        parser.add_argument("--events", nargs="+", required=True, choices=[event.value for event in Event])
        parser.add_argument("--channel", help="orders of this channel only; left out: of all, and lots")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        try:
            endpoint = add_endpoint(
                name=options["name"],
                url=options["url"],
                events=options["events"],
                channel_code=options["channel"],
                now=now,
            )
        except BooksError as error:
            raise CommandError(str(error)) from error
        [secret] = live_secrets(endpoint, now=now)
        self.stdout.write(encoded_secret(secret))
