"""The number of queries does not grow with the lines of an order, nor with the rows of a table."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import SpoolSize
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.demand import demand_frame, open_demand_frame, order_lines_frame
from inventory.selectors.orders import order_receipts
from inventory.selectors.plant import ship_calendar
from inventory.selectors.service import service_report
from inventory.selectors.stock import stock_rows
from inventory.services.orders import Arrival, amend_order, cancel_order, place_order, place_orders
from inventory.services.promises import promise_waiting_lines
from inventory.services.shipments import ship_order
from tests.inventory.builders import build_sku, build_supply, clock, local

MONDAY, THURSDAY = date(2027, 3, 1), date(2027, 3, 4)
NOON = local("2027-03-01 12:00")


@pytest.fixture
def skus(plant, stock):
    """Twenty SKUs: two spools of each on the shelf, and two in a run."""
    part = plant.black_1kg.spool_size.spool_part
    made = []
    for number in range(20):
        size = SpoolSize.objects.create(
            code=f"N{number}", net_g=2000 + number, tare_g=200, spool_part=part, max_temp_c=70, oven_places=Decimal(1)
        )
        sku = build_sku(f"BLACK-{number}", filament=plant.black, size=size, number=100 + number, value="9")
        stock(sku, 2)
        build_supply(plant, sku=sku, quantity=2, shelf_day=THURSDAY, code=f"R-{number}")
        made.append(sku)
    return made


def queries(call) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        call()
    # Savepoints and BEGIN are not counted: how many there are depends on who else holds a transaction.
    return sum(
        not row["sql"].upper().startswith(("SAVEPOINT", "RELEASE", "BEGIN")) for row in captured.captured_queries
    )


def draft(reference, skus, spools):
    return OrderDraft(channel_code="WEB", reference=reference, lines=[(sku.item.code, spools) for sku in skus])


def place(reference, skus, spools, *, at="2027-03-01 10:00"):
    return place_order(body=draft(reference, skus, spools), clock=clock(at))


# On SQLite the statements of a trip run one by one.


def test_order_from_the_shelf_takes_two_trips(skus):
    place("FIRST", skus[:1], 1)
    assert queries(lambda: place("A", skus[:2], 1)) == {"postgresql": 2, "sqlite": 8}[connection.vendor]


def test_order_from_runs_takes_four_trips(skus):
    place("FIRST", skus[:1], 1)
    assert queries(lambda: place("A", skus[:2], 4)) == {"postgresql": 4, "sqlite": 11}[connection.vendor]


def test_many_orders_take_as_many_trips_as_one(skus):
    place("FIRST", skus[:1], 1)
    pairs = [skus[number : number + 2] for number in range(0, 20, 2)]
    arrivals = [Arrival(draft(f"A-{pair[0].pk}", pair, 1), clock("2027-03-01 10:00")) for pair in pairs]
    assert queries(lambda: place_orders(arrivals[1:])) == queries(lambda: place_orders(arrivals[:1]))


@pytest.mark.parametrize("spools", [1, 3])
def test_order_of_eighteen_lines_takes_as_many_queries_as_one_of_two(skus, spools):
    two = queries(lambda: place("A", skus[:2], spools))
    twenty = queries(lambda: place("B", skus[2:], spools))
    assert twenty == two


def test_amending_twenty_lines_takes_as_many_queries_as_two(skus):
    small, large = place("A", skus[:2], 3), place("B", skus[2:], 3)

    def amend(receipt):
        lines = [(line.sku_code, 1) for line in receipt.lines]
        return lambda: amend_order(order_id=receipt.order_id, lines=lines, clock=clock("2027-03-01 11:00"))

    assert queries(amend(large)) == queries(amend(small))


def test_cancelling_twenty_lines_takes_as_many_queries_as_two(skus):
    small, large = place("A", skus[:2], 3), place("B", skus[2:], 3)

    def cancel(receipt):
        return lambda: cancel_order(order_id=receipt.order_id, by="shop", clock=clock("2027-03-01 11:00"))

    assert queries(cancel(large)) == queries(cancel(small))


def test_shipping_twenty_lines_takes_as_many_queries_as_two(skus):
    small, large = place("A", skus[:2], 1), place("B", skus[2:], 1)

    def ship(receipt):
        return lambda: ship_order(order_id=receipt.order_id, clock=clock("2027-03-01 15:00"))

    # The first shipment writes the place of the customer.
    ship(place("C", skus[:1], 1))()
    assert queries(ship(large)) == queries(ship(small))


def test_serving_twenty_waiting_lines_takes_as_many_queries_as_one(skus):
    place("A", skus[:1], 9)
    place("B", skus[1:], 9)

    def serve(some):
        return lambda: promise_waiting_lines(sku_ids=[sku.pk for sku in some], clock=clock("2027-03-01 11:00"))

    assert queries(serve(skus[1:])) == queries(serve(skus[:1]))


def test_reading_takes_as_many_queries_for_twenty_rows_as_for_one(skus):
    reads = [
        lambda: stock_rows(now=NOON),
        lambda: stock_rows(now=NOON, as_of=local("2027-03-01 09:00")),
        order_receipts,
        lambda: order_receipts(as_of=NOON),
        lambda: open_demand_frame(as_of=NOON),
        lambda: order_lines_frame(as_of=NOON),
        lambda: demand_frame(as_of=NOON, calendar=ship_calendar(first=MONDAY, last=THURSDAY)),
        lambda: service_report(first=MONDAY, last=THURSDAY, as_of=NOON + timedelta(days=3)),
    ]
    place("A", skus[:1], 9)
    one = [queries(read) for read in reads]
    place("B", skus[1:], 9)
    assert [queries(read) for read in reads] == one
