"""`manage.py deliver_webhooks`: send what the outbox holds."""

from __future__ import annotations

import random
from time import sleep
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.services.webhook_delivery import deliver_due

SECONDS_BETWEEN_ROUNDS = 2


class Command(BaseCommand):
    help = "Send the webhooks that are due. Run it from a timer, or with --watch as a process of its own."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--watch", action="store_true", help="go on until interrupted")

    def handle(self, *args: Any, **options: Any) -> None:
        draw = random.Random()
        while True:
            done = deliver_due(read_clock=timezone.now, draw=draw)
            if done.delivered or done.failed or done.given_up:
                self.stdout.write(f"{done.delivered} delivered, {done.failed} failed, {done.given_up} given up.")
            elif options["watch"]:
                sleep(SECONDS_BETWEEN_ROUNDS)
            else:
                return
