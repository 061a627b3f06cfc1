"""Write the plant of the database as files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.errors import BooksError
from inventory.management.console import ConsoleProgress
from inventory.plant_files.dump import dump_plant


class Command(BaseCommand):
    help = "Write the plant of the database as CSV files that load_plant reads."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("directory", type=Path, help="folder that holds no files of a plant yet")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            with ConsoleProgress(self.stderr) as progress:
                report = dump_plant(options["directory"], progress=progress)
        except BooksError as error:
            raise CommandError(str(error)) from error
        lines = [f"Written to {options['directory']}:"]
        lines += [f"  {name:<20} {count:>7} rows" for name, count in report.rows.items()]
        self.stdout.write("\n".join([*lines, *report.left_out]))
