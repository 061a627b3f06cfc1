"""`learned_figures`: what finished runs say of speeds, scrap and changeovers; with --accept, use it."""

from __future__ import annotations

import argparse
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.errors import BooksError
from stockplan.planner.core.learning import Estimate, LineLearning
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import AcceptedFigures
from stockplan.planner.services.floor_learning import accept_learned, learned_figures


class Command(BaseCommand):
    help = "Show what was learned from finished runs beside what is entered; --accept LINE enters it."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--accept", metavar="LINE", help="enter what was learned of this line")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        try:
            if options["accept"]:
                written = accept_learned(line_code=options["accept"], as_of=now, now=now, accepted_by=None)
                self.stdout.write(_entered(written))
                return
            found = learned_figures(as_of=now)
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
        for line, learned in found.items():
            self._print(line, learned)
        if not found:
            self.stdout.write("No finished run to learn from: none is finished yet, or all were accepted before.")

    def _print(self, line: str, learned: LineLearning) -> None:
        self.stdout.write(f"{line}: winding time {_words(learned.winding_factor)} of what is planned")
        self.stdout.write(f"{line}: scrap share {_words(learned.scrap_share)}")
        for (before, after), estimate in learned.changeovers.items():
            self.stdout.write(f"{line}: {before} to {after} {_words(estimate)} min")


def _entered(written: AcceptedFigures) -> str:
    changeovers = [f"{before} to {after} {minutes} min" for before, after, _, minutes in written.changeovers]
    return (
        f"Entered for line {written.line.code}: availability {written.availability:.4f}, "
        f"scrap share {written.scrap_share:.4f}, changeovers: {', '.join(changeovers) or 'none seen often enough'}."
    )


def _words(estimate: Estimate) -> str:
    return f"{estimate.learned:.3f} (entered {estimate.entered:.3f}, +/- {estimate.spread:.3f}, {estimate.runs} runs)"
