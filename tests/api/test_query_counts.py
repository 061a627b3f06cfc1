"""One row and twenty rows cost the same number of queries."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import SpoolSize
from tests.api.calls import MONDAY_9, get, order, post, put_on_shelf
from tests.inventory.builders import build_sku, build_supply

MANY = 20


def queries(call):
    with CaptureQueriesContext(connection) as captured:
        call()
    return len(captured)


@pytest.fixture
def skus(plant):
    """Twenty more SKUs of one filament, on sizes of their own."""
    size = SpoolSize.objects.get(code="S1000")
    sizes = []
    for number in range(MANY):
        size.pk, size.code, size.net_g = None, f"X{number}", 1000 + number
        size.save()
        sizes.append(SpoolSize.objects.get(pk=size.pk))
    return [
        build_sku(f"X-{number:02d}", filament=plant.black, size=each, number=100 + number, value="9")
        for number, each in enumerate(sizes)
    ]


def lines(skus):
    return [{"sku": sku.item.code, "quantity": 1} for sku in skus]


def stock(client, skus):
    for sku in skus:
        put_on_shelf(client, sku.item.code, 50)


@pytest.mark.parametrize("path", ["/stock/", "/skus/", "/orders/", "/runs/"])
@pytest.mark.parametrize("as_of", [{}, {"as_of": "2027-03-01T18:00:00+01:00"}])
def test_list_costs_the_same_queries_for_one_row_and_twenty(plant, skus, replay, path, as_of):
    stock(replay, skus)
    for number, sku in enumerate(skus):
        order(replay, f"A-{number}", lines=lines([sku]))
        build_supply(plant, sku=sku, quantity=5, shelf_day=date(2027, 3, 3), code=f"R-{number}")
    get(replay, path)
    one = queries(lambda: get(replay, path, limit=1, **as_of))
    rows = []
    many = queries(lambda: rows.extend(get(replay, path, limit=MANY, **as_of)["results"]))
    assert len(rows) == MANY
    assert many == one


def test_order_costs_the_same_queries_for_one_line_and_twenty(plant, skus, replay):
    stock(replay, skus)
    order(replay, "warm", lines=lines(skus[:2]))
    one = queries(lambda: order(replay, "A-1", lines=lines(skus[:1])))
    many = queries(lambda: order(replay, "A-2", lines=lines(skus)))
    assert many == one


def test_shipment_costs_the_same_queries_for_one_line_and_twenty(plant, skus, replay):
    stock(replay, skus)
    # The first shipment of a plant makes the customers' place; the first of a lot makes its balance there.
    parcels = {"warm": skus[:1], "small": skus[1:2], "large": skus[2:]}
    warm, small, large = (order(replay, name, lines=lines(some))["id"] for name, some in parcels.items())
    post(replay, "/shipments/", order=warm, occurred_at=MONDAY_9)
    one = queries(lambda: post(replay, "/shipments/", order=small, occurred_at=MONDAY_9))
    many = queries(lambda: post(replay, "/shipments/", order=large, occurred_at=MONDAY_9))
    assert many == one
