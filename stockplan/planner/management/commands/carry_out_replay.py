"""`carry_out_replay`: the replay that somebody asked for on the page, which starts it and reads how far it is."""

from __future__ import annotations

import argparse
import os
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.errors import BooksError
from stockplan.planner.errors import PlanningError
from stockplan.planner.services.asked_replays import carry_out

# Orders and pages come first.
NICENESS = 10


class Command(BaseCommand):
    help = "Carry out the replay that somebody asked for on the page."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("asked", type=int, help="its number")

    def handle(self, *args: Any, **options: Any) -> None:
        os.nice(NICENESS)
        try:
            carry_out(options["asked"], clock=timezone.now)
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
