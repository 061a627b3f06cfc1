"""`manage.py import_diameters`: the readings of a gauge, as a CSV file, into the books."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.errors import BooksError
from inventory.management.console import read_instant
from inventory.models import DiameterReport
from inventory.plant_files.diameters import read_diameters
from inventory.rules.clock import Clock
from inventory.services.ledger import MAX_DOCUMENT_LENGTH
from inventory.services.quality import post_diameters


class Command(BaseCommand):
    help = (
        "Report the diameters of a run from the CSV file of its gauge: columns x_mm and, where two axes are read, "
        "y_mm; rows in the order of measuring. One reading outside the tolerance puts the lots of the run on hold."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("run", help="code of the run")
        parser.add_argument("file", type=Path, help="CSV file in UTF-8")
        parser.add_argument(
            "--occurred-at", type=read_instant, help="when the last reading was taken, with its offset; default: now"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        occurred_at = options["occurred_at"] or now
        if occurred_at > now:
            raise CommandError(f"--occurred-at {occurred_at.isoformat()} is in the future.")
        try:
            readings = read_diameters(options["file"])
            judged = post_diameters(
                run_code=options["run"],
                readings=readings,
                source=DiameterReport.Source.GAUGE,
                document=options["file"].name[:MAX_DOCUMENT_LENGTH],
                clock=Clock(occurred_at=occurred_at, known_at=now),
            )
        except BooksError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{len(readings)} readings of run {options['run']}.")
        if judged.held_lots:
            self.stdout.write(f"Outside the tolerance; on hold: {', '.join(judged.held_lots)}.")
