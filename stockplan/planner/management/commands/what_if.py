"""`what_if`: what the newest list would be if something were otherwise, and what that costs in misses."""

from __future__ import annotations

import argparse
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.errors import BooksError
from stockplan.planner.core.whatif import Change, Forbid, ItemLate, LineDown, Pin, ReplanReleased, Resize, RushOrder
from stockplan.planner.errors import PlanningError
from stockplan.planner.services.what_if import WhatIf, what_if


class Command(BaseCommand):
    help = "Say what the newest make list would be with changes, and what they cost in misses. Nothing is stored."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--pin", action="append", default=[], metavar="FILAMENT", help="make it")
        parser.add_argument("--forbid", action="append", default=[], metavar="FILAMENT", help="do not make it")
        for name, metavar, what in (
            ("--resize", ("SKU", "SPOOLS"), "wind exactly so many of it, 0: none"),
            ("--line-down", ("LINE", "DAY"), "it stands still on that day, 2027-03-02"),
            ("--rush-order", ("SKU", "SPOOLS", "DAY"), "an order comes in, due on that day"),
            ("--item-late", ("ITEM", "DAYS"), "no run may use that material for so many days, today included"),
        ):
            parser.add_argument(name, action="append", default=[], nargs=len(metavar), metavar=metavar, help=what)
        parser.add_argument(
            "--replan-released", action="store_true", help="plan runs anew that are released, not begun"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            changes = _changes(options)
        except ValueError as error:
            raise CommandError(f"Write spools and days as whole numbers, a day as 2027-03-02: {error}") from error
        if not changes:
            raise CommandError("Say what to change; see --help.")
        try:
            found = what_if(changes, now=timezone.now())
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
        self._print(found)

    def _print(self, found: WhatIf) -> None:
        self.stdout.write(
            f"Expected misses: {found.misses_before:.1f} without the changes, {found.misses_after:.1f} with them: "
            f"{found.price:+.1f}. Computed in {found.compute_seconds:.1f} s; nothing was stored."
        )
        for sentence in (*found.rush_orders, found.verdict, found.remark):
            if sentence:
                self.stdout.write(str(sentence))
        for difference in found.differences:
            self.stdout.write(str(difference.sentence))
        for run in found.runs:
            self.stdout.write(f"{run.rank}. {run.filament} on {run.line}: {run.reason}")


def _changes(options: dict[str, Any]) -> list[Change]:
    return [
        *(Pin(filament) for filament in options["pin"]),
        *(Forbid(filament) for filament in options["forbid"]),
        *(Resize(sku, int(spools)) for sku, spools in options["resize"]),
        *(LineDown(line, date.fromisoformat(day)) for line, day in options["line_down"]),
        *(RushOrder(sku, int(spools), date.fromisoformat(day)) for sku, spools, day in options["rush_order"]),
        *(ItemLate(item, int(days)) for item, days in options["item_late"]),
        *([ReplanReleased()] if options["replan_released"] else []),
    ]
