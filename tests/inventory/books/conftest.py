"""Every test of the books ends with the check of the books; the plant is the tiny one of `builders`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pytest_django import Settings

from inventory.models import Movement, Order, Sku, SpoolSize, WebhookEndpoint
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.check import check_books
from inventory.selectors.plant import ship_calendar
from inventory.services.orders import place_order
from inventory.services.places import ensure_places
from inventory.services.scrap import scrap
from tests.inventory.books.floor import KG
from tests.inventory.books.receiver import Receiver, receiving
from tests.inventory.books.seals import NOON
from tests.inventory.books.webhooks import LOCAL, listen, resolve
from tests.inventory.builders import (
    TinyPlant,
    build_sku,
    build_tiny_plant,
    clock,
    local,
    planner_names_no_day,
    put_in_store,
    put_on_shelf,
)


@pytest.fixture(autouse=True)
def books_are_right_at_the_end(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail the test that leaves the books wrong. The database is asked for here, so that it is still there then."""
    if request.node.get_closest_marker("django_db") is None:
        yield
        return
    request.getfixturevalue("db")
    yield
    assert check_books() == []


@pytest.fixture
def plant(db: None) -> TinyPlant:
    tiny = build_tiny_plant()
    # At once, so that no count of queries depends on which place is used first.
    ensure_places()
    return tiny


@pytest.fixture
def stores(plant: TinyPlant) -> TinyPlant:
    """The tiny plant with 200 kg of each resin, 10 kg of concentrate, and parts for 500 spools of each size."""
    materials = (plant.black.material, plant.natural.material)
    for material in materials:
        put_in_store(material.resin_item, "200", lot_code=f"LOT-{material.code}")
    put_in_store(plant.black.colour.concentrate_item, "10", lot_code="LOT-MB")
    for sku in (plant.black_1kg, plant.black_250g):
        put_in_store(sku.spool_size.spool_part, "500", lot_code=f"LOT-SPOOL-{sku.spool_size.code}")
        put_in_store(sku.spool_size.box_item, "500", lot_code=f"LOT-BOX-{sku.spool_size.code}")
    return plant


@pytest.fixture
def many_skus(plant: TinyPlant) -> list[Sku]:
    """Twenty-one SKUs of black filament on sizes of their own, for counting queries."""
    like = plant.black_1kg.spool_size
    sizes = SpoolSize.objects.bulk_create(
        SpoolSize(
            code=f"N{number}",
            net_g=1000,
            tare_g=200,
            spool_part=like.spool_part,
            box_item=like.box_item,
            max_temp_c=70,
        )
        for number in range(21)
    )
    return [
        build_sku(f"PLA-BLACK-N{number}", filament=plant.black, size=size, number=100 + number, value="9.00")
        for number, size in enumerate(sizes)
    ]


@pytest.fixture(autouse=True)
def planner_is_not_asked() -> Iterator[None]:
    with planner_names_no_day():
        yield


@pytest.fixture
def order(plant: TinyPlant) -> Callable[..., int]:
    """`order("A", {sku: 3})`: the id of an order of the web shop, by default on Monday at 09:00."""

    def post(reference: str, wants: Mapping[Sku, int], *, at: str = "2027-03-01 09:00") -> int:
        lines = [(sku.item.code, spools) for sku, spools in wants.items()]
        place_order(body=OrderDraft(channel_code="WEB", reference=reference, lines=lines), clock=clock(at))
        return Order.objects.get(reference=reference).pk

    return post


@pytest.fixture
def queries_of() -> Callable[..., int]:
    """`queries_of(service, argument)`: how many queries the call makes, with the calendar read already."""

    def count(service: Callable[..., object], *arguments: object) -> int:
        ship_calendar(first=date(2027, 1, 1), last=date(2027, 12, 31))
        with CaptureQueriesContext(connection) as queries:
            service(*arguments)
        return len(queries)

    return count


@pytest.fixture
def receiver(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> Iterator[Receiver]:
    """A receiver that answers 204; its host's name leads to this machine, whose network is allowed."""
    settings.WEBHOOK_NETWORKS = LOCAL
    resolve(monkeypatch, "127.0.0.1")
    with time_machine.travel(local("2027-03-01 12:00"), tick=False), receiving() as one:
        yield one


@pytest.fixture
def listening(receiver: Receiver, plant: TinyPlant) -> WebhookEndpoint:
    """The receiver is told of everything."""
    return listen(receiver)


@pytest.fixture
def shelved(plant: TinyPlant) -> TinyPlant:
    """Twenty of each size of black at A-01, ten of natural at B-02."""
    places = ((plant.black_1kg, 20, "A-01"), (plant.black_250g, 20, "A-01"), (plant.natural_1kg, 10, "B-02"))
    for sku, spools, where in places:
        put_on_shelf(sku, spools)
        Sku.objects.filter(pk=sku.pk).update(shelf_place=where)
    return plant


@pytest.fixture
def posted(plant: TinyPlant) -> list[int]:
    """Four movements: the opening of ten spools and three of them scrapped one by one."""
    put_on_shelf(plant.black_1kg, 10)
    for _ in range(3):
        scrap(item_code=KG, quantity=1, clock=NOON, reason="torn")
    return list(Movement.objects.order_by("pk").values_list("pk", flat=True))
