"""`replay`: what the make list, or a plain reorder-point rule, would have come to on past days. Kept for the page."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from inventory.errors import BooksError
from inventory.selectors.plant import parameters
from stockplan.planner.core.replay.exchange import CURVE_FACTORS
from stockplan.planner.errors import PlanningError
from stockplan.planner.management.replay_printing import print_rows, rows_as_csv
from stockplan.planner.services.replays import POLICIES, ReplayQuestion, replay_as_asked, store_replay


class Command(BaseCommand):
    help = "Replay past days under a policy, with only what was known on each morning."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--from", dest="first", type=date.fromisoformat, required=True, help="first day")
        parser.add_argument("--to", dest="last", type=date.fromisoformat, required=True, help="last day")
        parser.add_argument("--policy", choices=POLICIES, default=POLICIES[0])
        how = parser.add_mutually_exclusive_group()
        how.add_argument("--stock-factor", type=_factor, default=1.0, help="all stock levels times this (1)")
        how.add_argument("--curve", action="store_true", help=f"the same for {len(CURVE_FACTORS)} stock factors")
        parser.add_argument("--format", choices=["table", "csv"], default="table")

    def handle(self, *args: Any, **options: Any) -> None:
        question = ReplayQuestion(
            options["first"], options["last"], options["policy"], options["curve"], options["stock_factor"]
        )
        try:
            with _bar() as bar:
                task = bar.add_task("replay", total=None)
                replayed = replay_as_asked(
                    question,
                    now=timezone.now(),
                    progress=lambda done, in_all: bar.update(task, completed=done, total=in_all),
                )
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
        head, rows = list(replayed.conditions), list(replayed.rows)
        store_replay(policy=question.policy, is_curve=question.is_curve, conditions=head, rows=rows, now=timezone.now())
        currency = parameters().currency
        if options["format"] == "csv":
            self.stdout.write(rows_as_csv(rows, currency=currency), ending="")
        else:
            print_rows(rows, head=[str(said) for said in head], currency=currency, file=self.stdout)


def _factor(text: str) -> float:
    try:
        factor = float(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"write a factor as 0.8, got {text!r}") from error
    if not 0 < factor <= 10:
        raise argparse.ArgumentTypeError(f"a stock factor is above 0 and at most 10, got {text}")
    return factor


def _bar() -> Progress:
    """A progress bar on the error stream; none where that is no terminal."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    return Progress(*columns, console=Console(stderr=True), disable=not sys.stderr.isatty(), transient=True)
