"""`shelf_worth`: which SKUs deserve shelf space, with the numbers."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.errors import BooksError
from inventory.selectors.plant import parameters
from stockplan.planner.errors import PlanningError
from stockplan.planner.services.shelf_advice import advise_shelf


class Command(BaseCommand):
    help = "Say what the shelf space of each SKU earns or costs in a year, and where it breaks even; dearest first."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            advice = advise_shelf(as_of=timezone.now(), now=timezone.now())
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
        currency = parameters().currency
        for row in advice:
            self.stdout.write(row.sentence(currency=currency))
