"""`make_list`: compute the ranked make list, store it and print it."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from inventory.errors import BooksError
from stockplan.planner.errors import PlanningError
from stockplan.planner.management.printing import as_csv, as_json, print_table
from stockplan.planner.selectors.make_lists import make_list_detail, plant_zone
from stockplan.planner.services.make_lists import compute_make_list


class Command(BaseCommand):
    help = "Compute the make list: which runs on which line, ranked by expected misses avoided per line hour."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--as-of", type=_instant, help="instant with its zone, 2027-02-22T06:00+01:00 (now)")
        length = parser.add_mutually_exclusive_group()
        length.add_argument("--days", type=int, help="ship days to cover (10)")
        length.add_argument("--week", help="ISO week to cover up to its end, 2027-W08")
        parser.add_argument("--format", choices=["table", "csv", "json"], default="table")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        try:
            with _bar() as bar:
                tasks = {stage: bar.add_task(stage, total=1.0) for stage in ("forecast", "make list")}
                stored = compute_make_list(
                    as_of=options["as_of"] or now,
                    now=now,
                    days=options["days"],
                    week=options["week"],
                    progress=lambda stage, share: bar.update(tasks[stage], completed=share),
                )
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
        detail = make_list_detail(stored.id)
        if options["format"] == "json":
            self.stdout.write(as_json(detail))
        elif options["format"] == "csv":
            self.stdout.write(as_csv(detail, zone=plant_zone()), ending="")
        else:
            print_table(detail, zone=plant_zone(), file=self.stdout)


def _bar() -> Progress:
    """A progress bar on the error stream, so that the list itself can be piped; none where that is no terminal."""
    console = Console(stderr=True)
    columns = (TextColumn("{task.description:>10}"), BarColumn(), TimeElapsedColumn())
    return Progress(*columns, console=console, disable=not sys.stderr.isatty(), transient=True)


def _instant(text: str) -> datetime:
    try:
        instant = datetime.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"write an instant as 2027-02-22T06:00+01:00, got {text!r}") from error
    if instant.tzinfo is None:
        raise argparse.ArgumentTypeError(f"{text!r} has no time zone; write 2027-02-22T06:00+01:00")
    return instant
