"""What the shelf is worth and how long it lasts, by hand."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.models import Order
from inventory.selectors.stock_value import stock_value
from tests.inventory.builders import TinyPlant

TODAY = date(2027, 3, 1)


def row_of(plant: TinyPlant):
    [row] = [row for row in stock_value(today=TODAY) if row.sku_code == "PLA-BLACK-1000"]
    return row


def test_value_is_spools_times_the_value_of_one(plant, stock):
    stock(plant.black_1kg, 12)
    assert (row_of(plant).on_shelf, row_of(plant).value) == (12, Decimal("108.00"))


def test_most_valuable_stock_comes_first_and_an_empty_shelf_not_at_all(plant, stock):
    stock(plant.black_1kg, 1)
    stock(plant.natural_1kg, 5)
    assert [row.sku_code for row in stock_value(today=TODAY)] == ["PETG-NAT-1000", "PLA-BLACK-1000"]


@pytest.mark.parametrize(
    ("on_shelf", "days_ago", "lasts", "is_slow", "is_dead"),
    [
        # 90 days x 20 / 9 spools due = 200 days, x 18 / 9 = 180 days.
        (20, 1, 200, True, False),
        (18, 1, 180, False, False),
        (1, 89, 10, False, False),
        (1, 90, None, True, False),
        (1, 179, None, True, False),
        (1, 180, None, False, True),
    ],
    ids=["200 days", "180 days", "89 days ago", "90 days ago", "179 days ago", "180 days ago"],
)
def test_slow_and_dead_stock_by_the_demand_of_late(plant, stock, order, on_shelf, days_ago, lasts, is_slow, is_dead):
    stock(plant.black_1kg, on_shelf)
    order("A", {plant.black_1kg: 9})
    Order.objects.update(due_day=TODAY - timedelta(days=days_ago))
    row = row_of(plant)
    assert (row.lasts_days, row.is_slow, row.is_dead) == (lasts, is_slow, is_dead)


def test_project_orders_do_not_count_as_demand(plant, stock, order):
    stock(plant.black_1kg, 1)
    order("A", {plant.black_1kg: 9}, kind="project")
    assert row_of(plant).is_dead
