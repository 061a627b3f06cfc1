"""`purchases`: what to buy, how much and by when."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.errors import BooksError
from inventory.models import Item
from stockplan.planner.core.purchasing import Purchase
from stockplan.planner.errors import PlanningError
from stockplan.planner.services.purchase_advice import advise_purchases


class Command(BaseCommand):
    help = "Say what materials to buy, how much and by when, from the list and the forecast beyond it."

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        try:
            found = advise_purchases(as_of=now, now=now)
        except (PlanningError, BooksError) as error:
            raise CommandError(str(error)) from error
        for purchase in found:
            self.stdout.write(sentence(purchase))
        if not found:
            self.stdout.write("Nothing has to be bought within the days that the forecast covers.")


def sentence(purchase: Purchase) -> str:
    """Say one purchase in words."""
    packs = "" if purchase.packs is None else f" ({purchase.packs} packs)"
    late = f"; it comes {purchase.late_days} days too late" if purchase.late_days else ""
    digits = 3 if purchase.unit == Item.Unit.KG.label else 0
    return (
        f"{purchase.item} {purchase.name}: buy {purchase.quantity:,.{digits}f} {purchase.unit}{packs} "
        f"by {purchase.buy_by}; {purchase.on_hand:,.{digits}f} left would run out on {purchase.runs_out_on}{late}."
    )
