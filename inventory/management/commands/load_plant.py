"""Build an empty database from the files of a plant."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.errors import BooksError
from inventory.management.console import ConsoleProgress, read_instant
from inventory.plant_files.load import LoadReport, load_plant
from inventory.plant_files.schema import schema_markdown


class Command(BaseCommand):
    help = "Build an empty database from the CSV files of a plant; all of them or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("directory", type=Path, nargs="?", help="folder with the CSV files")
        parser.add_argument(
            "--as-of", type=read_instant, help="instant at which the books open, with its offset from UTC; default: now"
        )
        parser.add_argument("--describe", action="store_true", help="print the schema of the files and load nothing")

    def handle(self, *_args: Any, **options: Any) -> None:
        if options["describe"]:
            self.stdout.write(schema_markdown())
            return
        if options["directory"] is None:
            raise CommandError("Name the folder with the CSV files, or ask for their --describe.")
        try:
            with ConsoleProgress(self.stderr) as progress:
                report = load_plant(options["directory"], as_of=options["as_of"] or timezone.now(), progress=progress)
        except BooksError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(_told(report))


def _told(report: LoadReport) -> str:
    lines = [f"Loaded as of {report.as_of.isoformat(timespec='seconds')}:"]
    lines += [f"  {name:<20} {count:>7} rows" for name, count in report.rows.items() if name not in report.missing]
    lines += [f"  {name:<20} missing, as it may be" for name in report.missing]
    orders = report.orders
    lines.append(f"{orders.orders} orders with {orders.lines} lines; {orders.open_lines} lines are open.")
    if orders.lines_without_promise:
        lines.append(f"{orders.lines_without_promise} open lines have no ship day yet: no supply is planned for them.")
    return "\n".join(lines)
