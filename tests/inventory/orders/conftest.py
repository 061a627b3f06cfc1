"""A tiny plant with stock for the tests of orders: one Monday morning, opening stock posted through the ledger."""

from __future__ import annotations

from collections.abc import Callable, Collection
from decimal import Decimal

import pytest
from pytest_django import Settings

from inventory.models import Lot, Movement, Place, Sku
from inventory.rules.order_draft import OrderDraft
from inventory.rules.order_receipt import OrderReceipt
from inventory.services.ledger import LineDraft, ensure_places, place, post_movement
from inventory.services.orders import place_order
from tests.inventory.builders import TinyPlant, build_tiny_plant, clock, local

Stock = Callable[..., Lot]
Order = Callable[..., OrderReceipt]
CAPACITY_DAY = local("2027-03-12 00:00").date()


def capacity_on_friday(wanted: Collection[tuple[int, int]], *, as_of: object) -> dict[tuple[int, int], object]:
    """Stands in for the planner: everything could be made by Friday of the next week."""
    return dict.fromkeys(wanted, CAPACITY_DAY)


@pytest.fixture
def plant(db: None, settings: Settings) -> TinyPlant:
    settings.EARLIEST_CAPACITY_DAY = f"{__name__}.capacity_on_friday"
    ensure_places()
    return build_tiny_plant()


@pytest.fixture
def stock(plant: TinyPlant) -> Stock:
    """`stock(sku, 10)`: a lot of ten spools on the shelf."""

    def post(sku: Sku, spools: int, *, code: str = "", at: str = "2027-03-01 06:00") -> Lot:
        number = Lot.objects.count() + 1
        lot = Lot.objects.create(code=code or f"LOT-{number}", item=sku.item, created_at=local(at))
        line = LineDraft(
            item_id=sku.pk,
            lot_id=lot.pk,
            quantity=Decimal(spools),
            from_place=place(Place.Kind.OPENING),
            to_place=place(Place.Kind.SHELF),
        )
        post_movement(kind=Movement.Kind.OPENING, lines=[line], clock=clock(at))
        return lot

    return post


@pytest.fixture
def order(plant: TinyPlant) -> Order:
    """`order("A", {sku: 3})`: an order of the web shop, by default on Monday at ten."""

    def post(reference: str, wants: dict[Sku, int], *, at: str = "2027-03-01 10:00", **fields: object) -> OrderReceipt:
        lines = [(sku.item.code, spools) for sku, spools in wants.items()]
        body = OrderDraft(channel_code=plant.channel.code, reference=reference, lines=lines, **fields)  # type: ignore[arg-type]
        return place_order(body=body, clock=clock(at))

    return post
