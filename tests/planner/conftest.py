"""The tiny plant of the books with what a make list needs: resin, parts, and orders that nothing covers."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.models import Item
from inventory.rules.order_draft import OrderDraft
from inventory.services.orders import place_order
from tests.inventory.builders import TinyPlant, build_tiny_plant, clock, planner_names_no_day, put_in_store


@pytest.fixture
def plant(db: None) -> TinyPlant:
    """A tiny plant whose store is full."""
    tiny = build_tiny_plant()
    for item in Item.objects.exclude(kind="sku").order_by("code"):
        put_in_store(item, "5000", lot_code=f"FULL-{item.code}")
    return tiny


@pytest.fixture
def ordered(plant: TinyPlant) -> TinyPlant:
    """Monday 08:00: six kilogram spools and two small ones of black are wanted for Thursday, none is on the shelf."""
    order("ONE", [("PLA-BLACK-1000", 6), ("PLA-BLACK-250", 2)], at="2027-03-01 08:00", wanted="2027-03-04")
    return plant


def order(reference: str, lines: list[tuple[str, int]], *, at: str, wanted: str | None = None) -> int:
    """Place an order and return its id; what the receipt says is tested where orders are."""
    draft = OrderDraft(
        channel_code="WEB",
        reference=reference,
        lines=lines,
        wanted_day=None if wanted is None else date.fromisoformat(wanted),
    )
    with planner_names_no_day():
        return place_order(body=draft, clock=clock(at)).order_id
