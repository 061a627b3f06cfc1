"""Orders placed together: each stands for itself, in the order in which they came, in one transaction."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from inventory.models import Allocation, Order, OrderLine, OrderLineChange, RunOutput, ShelfStock, Sku
from inventory.order_errors import ReferenceInUseError, UnknownChannelError, UnknownSkuError
from inventory.rules.order_draft import OrderDraft
from inventory.rules.order_receipt import OrderReceipt
from inventory.services import orders
from inventory.services.order_rows import NewOrders
from inventory.services.orders import Arrival, place_orders
from inventory.services.transactions import ContentionError
from tests.inventory.builders import build_supply, clock

BLACK = "PLA-BLACK-1000"
AT = clock("2027-03-01 10:00")
WEDNESDAY = date(2027, 3, 3)


def arrival(reference, *lines, channel="WEB", **more):
    return Arrival(OrderDraft(channel_code=channel, reference=reference, lines=lines, **more), AT)


def test_later_orders_get_what_the_earlier_ones_left(plant, stock):
    stock(plant.black_1kg, 5)
    build_supply(plant, sku=plant.black_1kg, quantity=3, shelf_day=WEDNESDAY, code="R-1")
    receipts = place_orders([arrival(f"A-{number}", (BLACK, 4)) for number in range(3)])
    lines = [receipt.lines[0] for receipt in receipts]
    assert [(line.from_shelf, sum(part.quantity for part in line.from_supply)) for line in lines] == [
        (4, 0), (1, 3), (0, 0),
    ]  # fmt: skip
    assert [line.unpromised for line in lines] == [0, 0, 4]
    assert (ShelfStock.objects.get().allocated, RunOutput.objects.get().allocated) == (5, 3)


def test_answers_are_what_the_books_say_of_the_orders(plant, stock):
    stock(plant.black_1kg, 5)
    build_supply(plant, sku=plant.black_1kg, quantity=3, shelf_day=WEDNESDAY, code="R-1")
    Sku.objects.filter(pk=plant.natural_1kg.pk).update(is_stocked=False)
    build_supply(plant, sku=plant.natural_1kg, quantity=9, shelf_day=WEDNESDAY, code="R-2")
    wide = arrival("A", (BLACK, 6), ("PETG-NAT-1000", 2), wanted_day=WEDNESDAY, ship_to='é " \\ 😀', may_part_ship=True)
    receipts = place_orders([wide, arrival("B", (BLACK, 1), kind="own_use")])
    # Read back by the ORM, which knows nothing of how they were written.
    assert receipts == [orders.order_receipt(receipt.order_id) for receipt in receipts]
    assert OrderLine.objects.get(sku=plant.natural_1kg).quoted_day == WEDNESDAY
    order = Order.objects.get(reference="A")
    assert (order.received_at, order.known_at, order.ship_to) == (AT.occurred_at, AT.known_at, 'é " \\ 😀')
    assert list(Order.objects.order_by("pk").values_list("reference", flat=True)) == ["A", "B"]


def test_order_that_is_refused_takes_nothing_and_stops_no_other(plant, stock):
    stock(plant.black_1kg, 3)
    outcomes = place_orders(
        [
            arrival("A", (BLACK, 3), ("NO-SUCH", 1)),
            arrival("B", (BLACK, 3), channel="NO-SUCH"),
            arrival("C", (BLACK, 3)),
        ]
    )
    assert [type(outcome) for outcome in outcomes] == [UnknownSkuError, UnknownChannelError, OrderReceipt]
    assert (outcomes[0].pointer, outcomes[2].lines[0].from_shelf) == ("/lines/1/sku", 3)
    assert (Order.objects.count(), Allocation.objects.count(), OrderLineChange.objects.count()) == (1, 1, 1)


def test_same_reference_twice_in_one_go_is_a_repeat_or_a_clash(plant, stock):
    stock(plant.black_1kg, 9)
    first, again, other = place_orders([arrival("A", (BLACK, 3)), arrival("A", (BLACK, 3)), arrival("A", (BLACK, 4))])
    assert again == replace(first, replayed=True)
    assert isinstance(other, ReferenceInUseError)
    assert ShelfStock.objects.get().allocated == 3


def test_reference_of_a_refused_order_is_free_for_the_next(plant, stock):
    stock(plant.black_1kg, 9)
    refused, placed = place_orders([arrival("A", ("NO-SUCH", 3)), arrival("A", (BLACK, 3))])
    assert (type(refused), type(placed)) == (UnknownSkuError, OrderReceipt)


def test_sku_that_never_had_stock_is_ordered_all_the_same(plant):
    assert not ShelfStock.objects.exists()
    (receipt,) = place_orders([arrival("A", (BLACK, 2))])
    assert (receipt.lines[0].unpromised, ShelfStock.objects.get().on_shelf) == (2, 0)


def test_no_orders_come_to_nothing(plant):
    assert place_orders([]) == []


def test_references_that_others_take_again_and_again_end_in_contention(plant, stock, monkeypatch):
    """A look that never finds what is there, as when another connection writes right after each."""
    stock(plant.black_1kg, 9)
    place_orders([arrival("A", (BLACK, 1))])
    seen, look = [], orders.lock_for

    def blind(arrivals):
        seen.append(arrivals)
        return replace(look(arrivals), orders={})

    monkeypatch.setattr(orders, "lock_for", blind)
    with pytest.raises(ContentionError):
        place_orders([arrival("A", (BLACK, 1))])
    assert (len(seen), ShelfStock.objects.get().allocated) == (orders.MOST_TRIES, 1)


@pytest.mark.parametrize("model", [Order, OrderLine, OrderLineChange, Allocation])
def test_rows_name_every_column_of_their_table(plant, stock, monkeypatch, model):
    """A column that they forgot would be empty in the books, whatever its default in the model says."""
    stock(plant.black_1kg, 9)
    rows = {}
    monkeypatch.setattr(NewOrders, "write", lambda new: rows.update(vars(new)))
    place_orders([arrival("A", (BLACK, 1))])
    named = {Order: "orders", OrderLine: "lines", OrderLineChange: "changes", Allocation: "allocations"}[model]
    columns = {field.column for field in model._meta.concrete_fields}
    assert set(rows[named][0]) | {"id"} == columns


ASKED = []


def day_by_spools(wanted, *, as_of):
    ASKED.append((sorted(wanted), as_of))
    return {(sku_id, spools): date(2027, 3, spools) for sku_id, spools in wanted}


def test_planner_is_asked_once_for_all_orders_that_came_together(plant, stock, settings):
    settings.EARLIEST_CAPACITY_DAY = f"{__name__}.day_by_spools"
    ASKED.clear()
    stock(plant.black_1kg, 5)
    spools = (5, 8, 9, 8)
    arrivals = [arrival(f"A-{n}", (BLACK, wanted)) for n, wanted in enumerate(spools)]
    later = Arrival(OrderDraft(channel_code="WEB", reference="B", lines=[(BLACK, 2)]), clock("2027-03-01 11:00"))
    receipts = place_orders([*arrivals, later])
    assert [receipt.earliest_capacity_day for receipt in receipts] == [
        None, date(2027, 3, 8), date(2027, 3, 9), date(2027, 3, 8), date(2027, 3, 2),
    ]  # fmt: skip
    black = plant.black_1kg.pk
    assert [([(black, 8), (black, 9)], AT.known_at), ([(black, 2)], later.clock.known_at)] == ASKED
