"""Two orders never get the same spools: real connections, one thread each."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from django.db.models import Sum

from inventory.models import Allocation, Order, OrderLine, RunOutput, ShelfStock
from inventory.order_errors import ReferenceInUseError
from inventory.rules.order_draft import OrderDraft
from inventory.rules.order_receipt import OrderReceipt
from inventory.services.orders import cancel_order, place_order
from tests.inventory.at_once import at_once
from tests.inventory.builders import build_supply, clock

pytestmark = pytest.mark.django_db(transaction=True)
WORKERS = 6
BLACK, NATURAL = "PLA-BLACK-1000", "PETG-NAT-1000"


def placing(reference: str, *lines: tuple[str, int]) -> Callable[[], OrderReceipt]:
    body = OrderDraft(channel_code="WEB", reference=reference, lines=lines)
    return lambda: place_order(body=body, clock=clock("2027-03-01 10:00"))


def test_orders_at_once_never_get_the_same_spools_of_the_shelf(plant, stock):
    stock(plant.black_1kg, 10)
    receipts = at_once(*(placing(f"A-{number}", (BLACK, 3)) for number in range(WORKERS)))
    # Six orders of three spools: the shelf of ten covers three whole ones and one spool of a fourth.
    assert sorted(receipt.lines[0].from_shelf for receipt in receipts) == [0, 0, 1, 3, 3, 3]
    assert Allocation.objects.filter(end="").aggregate(spools=Sum("quantity"))["spools"] == 10
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 10


def test_orders_at_once_never_get_the_same_spools_of_a_run(plant):
    build_supply(plant, sku=plant.black_1kg, quantity=10, shelf_day=date(2027, 3, 3), code="R-1")
    receipts = at_once(*(placing(f"A-{number}", (BLACK, 3)) for number in range(WORKERS)))
    assert sorted(receipt.lines[0].unpromised for receipt in receipts) == [0, 0, 0, 2, 3, 3]
    assert RunOutput.objects.get().allocated == 10


def test_orders_at_once_with_their_lines_crossed_do_not_deadlock(plant, stock):
    stock(plant.black_1kg, 30)
    stock(plant.natural_1kg, 30)
    crossed = [((BLACK, 1), (NATURAL, 1)), ((NATURAL, 1), (BLACK, 1))]
    receipts = at_once(*(placing(f"A-{number}", *crossed[number % 2]) for number in range(WORKERS)))
    assert [receipt.ship_day for receipt in receipts] == [date(2027, 3, 1)] * WORKERS


def test_first_orders_of_an_sku_at_once_write_one_shelf_row(plant):
    receipts = at_once(*(placing(f"A-{number}", (BLACK, 1)) for number in range(WORKERS)))
    assert [receipt.lines[0].unpromised for receipt in receipts] == [1] * WORKERS
    assert ShelfStock.objects.count() == 1


def test_one_reference_at_once_places_one_order(plant, stock):
    stock(plant.black_1kg, 30)
    receipts = at_once(*(placing("SAME", (BLACK, 2)) for _ in range(WORKERS)))
    assert sorted(receipt.replayed for receipt in receipts) == [False] + [True] * (WORKERS - 1)
    assert {receipt.order_id for receipt in receipts} == {Order.objects.get().pk}
    assert OrderLine.objects.count() == 1


def test_one_reference_at_once_with_two_bodies_refuses_one(plant, stock):
    stock(plant.black_1kg, 30)
    answers = at_once(placing("SAME", (BLACK, 2)), placing("SAME", (BLACK, 3)))
    assert sum(isinstance(answer, ReferenceInUseError) for answer in answers) == 1
    assert Order.objects.count() == 1


def test_cancelling_and_placing_at_once_keep_the_counts(plant, stock):
    stock(plant.black_1kg, 6)
    first = placing("FIRST", (BLACK, 6))()
    waiting = placing("WAITING", (BLACK, 4))()
    at_once(
        lambda: cancel_order(order_id=first.order_id, by="customer", clock=clock("2027-03-01 11:00")),
        placing("NEW", (BLACK, 4)),
    )
    live = Allocation.objects.filter(end="")
    assert live.aggregate(spools=Sum("quantity"))["spools"] == 6
    # Whoever came first, the order that waited is served before the new one or after it, and never in part with both.
    assert live.get(order_line__order_id=waiting.order_id).quantity in (2, 4)
    assert ShelfStock.objects.get(sku=plant.black_1kg).allocated == 6
