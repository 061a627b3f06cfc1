"""Make a token for an integration and print it once."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.errors import BooksError
from stockplan.access.models import Scope
from stockplan.access.tokens import create_token


class Command(BaseCommand):
    help = "Make a token for an integration and print it once. The books keep only its hash."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the integration, e.g. web-shop")
        parser.add_argument("--scopes", nargs="+", required=True, metavar="SCOPE", help=", ".join(Scope.values))
        parser.add_argument("--channel", help="orders of this channel only; left out: of every channel")
        parser.add_argument("--days", type=int, default=365, help="days until it expires (365)")
        parser.add_argument(
            "--requests-per-minute",
            type=int,
            metavar="N",
            help="left out: as many as STOCKPLAN_REQUESTS_PER_MINUTE says",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            token = create_token(
                name=options["name"],
                scopes=options["scopes"],
                channel_code=options["channel"],
                days=options["days"],
                requests_per_minute=options["requests_per_minute"],
            )
        except BooksError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(token)
