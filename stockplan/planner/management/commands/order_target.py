"""`order_target`: what a share of orders complete costs in stock; with --set, aim at it."""

from __future__ import annotations

import argparse
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.errors import BooksError
from inventory.selectors.plant import parameters
from stockplan.planner.errors import PlanningError
from stockplan.planner.services.order_targets import TargetAdvice, advise_order_target, set_order_target


class Command(BaseCommand):
    help = "Say what stock a share of orders, complete on their ship day, needs; --set makes it the plant's target."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("share", type=float, help="share of orders, 0.97")
        parser.add_argument("--set", action="store_true", help="store it: forecasts from now on set their levels by it")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            advice = advise_order_target(share=options["share"], as_of=timezone.now())
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(_words(advice, currency=parameters().currency))
        if options["set"]:
            set_order_target(share=advice.share)
            self.stdout.write("It is the plant's target now; the next forecast sets its levels by it.")


def _words(advice: TargetAdvice, *, currency: str) -> str:
    target, simulated = advice.verified.target, advice.verified.simulated
    saved = 1 - target.stock_value / target.single_sku_value
    return (
        f"{advice.share:.2%} of the orders complete on their ship day need a stock of {currency} "
        f"{target.stock_value:,.0f} on average.\n"
        f"Simulated with {simulated.orders:,} orders drawn from the books: {simulated.share:.2%}, standard error "
        f"{simulated.standard_error:.2%}.\n"
        f"With the same cycle service for every SKU it would be {currency} {target.single_sku_value:,.0f}; the targets "
        f"by order save {saved:.1%}."
    )
