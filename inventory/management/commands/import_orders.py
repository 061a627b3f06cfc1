"""Import an order table into the plant of the database."""

from __future__ import annotations

from argparse import RawDescriptionHelpFormatter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.errors import BooksError
from inventory.management.console import ConsoleProgress, read_instant
from inventory.plant_files.import_orders import IMPORT_SCHEMA, ImportReport, import_orders

MOST_SHOWN = 20


def columns_text() -> str:
    """Describe the columns of an order table."""
    lines = [f"{IMPORT_SCHEMA.meaning} Columns:"]
    for column in IMPORT_SCHEMA.columns:
        words = f"{column.meaning}; one of {', '.join(column.choices)}" if column.choices else column.meaning
        empty = f" (empty: {column.empty})" if column.empty else " (must be filled)"
        absent = ", may be left out" if column.may_be_absent else ""
        lines.append(f"  {column.name} [{column.kind}{absent}]: {words}{empty}")
    return "\n".join(lines).replace("%", "%%")


class Command(BaseCommand):
    help = "Import an order table (CSV) into the plant of the database; all of it or nothing."

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(prog_name, subcommand, epilog=columns_text(), **kwargs)
        # Keeps the line ends of the column list.
        parser.formatter_class = RawDescriptionHelpFormatter
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="CSV file with the columns listed below")
        parser.add_argument("--channel", help="code of the channel of rows that name none")
        parser.add_argument(
            "--as-of", type=read_instant, help="instant as of which open lines are promised; default: now"
        )
        parser.add_argument(
            "--unknown-is-shipped",
            action="store_true",
            help="lines without an outcome count as shipped on their due day where that is past",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            with ConsoleProgress(self.stderr) as progress:
                report = import_orders(
                    options["file"],
                    as_of=options["as_of"] or timezone.now(),
                    channel=options["channel"],
                    unknown_is_shipped=options["unknown_is_shipped"],
                    progress=progress,
                )
        except BooksError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(_told(report))


def _told(report: ImportReport) -> str:
    written = report.written
    lines = [
        f"Imported {written.orders} orders with {written.lines} lines; {written.open_lines} lines are open, "
        f"{written.lines_without_promise} of them without a ship day.",
        f"{report.already_there} orders were there already.",
    ]
    for item in report.added_up[:MOST_SHOWN]:
        rows = ", ".join(map(str, item.lines))
        lines.append(
            f"Added up: order {item.channel}/{item.reference}, {item.sku} in lines {rows}: {item.quantity} spools."
        )
    if len(report.added_up) > MOST_SHOWN:
        lines.append(f"... and {len(report.added_up) - MOST_SHOWN} more added up.")
    return "\n".join(lines)
