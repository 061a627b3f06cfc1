"""make_demo_plant: write the invented plant as plant files."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from stockplan.demo.generate import DEFAULT_LAST_DAY, DEFAULT_SEED, write_demo_plant


class Command(BaseCommand):
    help = "Write the demo plant, invented from end to end, as plant files into a folder."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("directory", type=Path, help="an empty or a new folder")
        parser.add_argument(
            "--last-day", type=_day, default=DEFAULT_LAST_DAY, help=f"last day of orders (default {DEFAULT_LAST_DAY})"
        )
        parser.add_argument("--seed", type=_seed, default=DEFAULT_SEED, help=f"whole number (default {DEFAULT_SEED})")

    def handle(self, *, directory: Path, last_day: date, seed: int, **_options: Any) -> None:
        try:
            plant = write_demo_plant(directory, seed=seed, last_day=last_day)
        except OSError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(plant.capacity_report)
        rows = sum(len(table) for table in plant.tables.values())
        self.stdout.write(f"Wrote {len(plant.tables)} files, {rows} rows, to {directory}.")
        self.stdout.write(f"Load it with: load_plant {directory} --as-of {plant.timeline.as_of.isoformat()}")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise CommandError(f"--last-day: write a day as 2027-02-14, got {text!r}.") from error


def _seed(text: str) -> int:
    if not text.isdecimal():
        raise CommandError(f"--seed: write a whole number from 0 on, got {text!r}.")
    return int(text)
