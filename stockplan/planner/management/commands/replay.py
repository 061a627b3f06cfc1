"""`replay`: what the make list, or a plain reorder-point rule, would have come to on past days. Kept for the page."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from inventory.errors import BooksError
from stockplan.planner.core.replay.exchange import CURVE_FACTORS, ScalablePolicy, best_of, exchange_curve
from stockplan.planner.core.replay.policies import MakeListPolicy, PlainIndexPolicy
from stockplan.planner.core.replay.records import ReplayRow, ReplayTotals, by_week
from stockplan.planner.core.replay.reorder_point import SIX_SETTINGS
from stockplan.planner.core.replay.simulation import replay
from stockplan.planner.errors import PlanningError
from stockplan.planner.management.replay_printing import print_rows, rows_as_csv
from stockplan.planner.services.replay import REFRESH_DAYS, PreparedReplay, prepare_replay
from stockplan.planner.services.stored_replays import store_replay

Tick = Callable[[date], None]
REORDER_POINT = "reorder-point"
POLICIES = ("make-list", "plain-index", REORDER_POINT)


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
        try:
            prepared = prepare_replay(first_day=options["first"], last_day=options["last"], now=timezone.now())
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
        replays = len(CURVE_FACTORS) if options["curve"] else 1
        replays += len(SIX_SETTINGS) if options["policy"] == REORDER_POINT else 0
        with _bar() as bar:
            task = bar.add_task("replay", total=replays * prepared.ship_days)
            policy = _policy(options, prepared, tick=lambda _: bar.advance(task))
            rows = _rows(options, prepared, policy, tick=lambda _: bar.advance(task))
        head = _head(policy, prepared)
        store_replay(
            policy=options["policy"], is_curve=options["curve"], conditions=head, rows=rows, now=timezone.now()
        )
        if options["format"] == "csv":
            self.stdout.write(rows_as_csv(rows), ending="")
        else:
            print_rows(rows, head=head, file=self.stdout)


def _policy(options: dict[str, Any], prepared: PreparedReplay, *, tick: Tick) -> ScalablePolicy:
    """Return the policy asked for; of the reorder-point settings the one that keeps most orders."""
    factor = options["stock_factor"]
    if options["policy"] == REORDER_POINT:
        settings = [type(s)(s.safety_factor, s.lot_days, factor) for s in SIX_SETTINGS]
        return best_of(prepared.stretch, settings, forecast_of=prepared.forecasts, tick=tick)
    return MakeListPolicy(factor) if options["policy"] == POLICIES[0] else PlainIndexPolicy(factor)


def _rows(options: dict[str, Any], prepared: PreparedReplay, policy: ScalablePolicy, *, tick: Tick) -> list[ReplayRow]:
    if options["curve"]:
        curve = exchange_curve(prepared.stretch, policy, forecast_of=prepared.forecasts, tick=tick)
        return [ReplayRow(f"x {point.stock_factor:g}", point.totals) for point in curve]
    records = replay(prepared.stretch, policy, forecast_of=prepared.forecasts, tick=tick)
    weeks = [ReplayRow(f"{week.first_day:%G-W%V}", week) for week in by_week(records)]
    return [*weeks, ReplayRow("total", ReplayTotals.of(records))]


def _head(policy: ScalablePolicy, prepared: PreparedReplay) -> list[str]:
    return [
        f"Policy: {policy}.",
        prepared.opening,
        f"Demand is forecast anew every {REFRESH_DAYS} ship days; each list covers {prepared.stretch.list_days}.",
        "Materials are taken to be there, runs to take as long as planned; orders with a SKU made to order, and the "
        "plant's own use, are made and shipped but in no share.",
    ]


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
