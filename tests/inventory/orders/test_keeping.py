"""Spools kept for a visitor: taken off what is free until an hour, given back after it, or taken as an order."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db.models import Sum

from inventory.models import Allocation, Order, ShelfStock
from inventory.order_errors import (
    ClosedOrderError,
    KeptOrderError,
    NotFreeError,
    OrderFieldError,
    ReferenceInUseError,
    UnknownOrderError,
)
from inventory.rules.order_draft import OrderDraft
from inventory.rules.order_receipt import OrderReceipt
from inventory.selectors.check import check_books
from inventory.selectors.due import due_order, next_pick_up
from inventory.selectors.kept import kept_orders
from inventory.selectors.stock import stock_rows
from inventory.services.amendments import amend_order
from inventory.services.counts import post_count
from inventory.services.keeping import end_kept, end_past_kept
from inventory.services.orders import place_order
from inventory.services.shipments import ship_order
from tests.constraints import refused
from tests.inventory.at_once import at_once
from tests.inventory.builders import TinyPlant, build_supply, clock, local

BLACK, SMALL = "PLA-BLACK-1000", "PLA-BLACK-250"
NOON = local("2027-03-01 12:00")


def keep(reference: str = "K-1", *lines: tuple[str, int], until: str = "2027-03-01 12:00") -> OrderReceipt:
    """Spools kept on Monday at ten, two black ones where nothing else is said."""
    body = OrderDraft(
        "WEB", reference, lines or [(BLACK, 2)], kind="kept", kept_until=local(until), ship_to="Mill Lane"
    )
    return place_order(body=body, clock=clock("2027-03-01 10:00"))


def free(sku_code: str = BLACK) -> int:
    stock = ShelfStock.objects.get(sku__item__code=sku_code)
    return stock.free


def take(kept_id: int | None, *lines: tuple[str, int], at: str = "2027-03-01 11:00") -> OrderReceipt:
    body = OrderDraft("WEB", "A-1", lines or [(BLACK, 2)])
    return place_order(body=body, clock=clock(at), kept_order_id=kept_id)


def test_what_is_kept_is_not_free_until_its_hour(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    keep()
    assert free() == 3
    assert end_past_kept(clock=clock("2027-03-01 11:59")) == 0
    assert end_past_kept(clock=clock("2027-03-01 12:00")) == 1
    assert (free(), check_books()) == (5, [])


def test_stock_is_read_as_it_was_known_before_and_after(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    keep()
    end_past_kept(clock=clock("2027-03-01 12:30"))
    times = ("2027-03-01 09:59", "2027-03-01 12:29", "2027-03-01 12:31")
    rows = [stock_rows(now=local(at), as_of=local(at), skus=[BLACK])[0].free for at in times]
    assert rows == [5, 3, 5]


def test_what_is_kept_is_listed_until_its_hour(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    keep()
    [kept] = kept_orders(now=local("2027-03-01 11:59"))
    assert (kept.reference, kept.visitor, kept.kept_until, kept.spools) == ("K-1", "Mill Lane", NOON, {BLACK: 2})
    assert kept_orders(now=NOON) == []


def test_more_than_is_free_is_not_kept_at_all(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    stock(plant.black_250g, 1)
    # Spools of a run help nobody who stands at the counter.
    build_supply(plant, sku=plant.black_250g, quantity=9, shelf_day=NOON.date(), code="R-1")
    with pytest.raises(NotFreeError, match=f"1 of {SMALL} are free, 2 were to be kept") as short:
        keep("K-1", (BLACK, 2), (SMALL, 2))
    assert short.value.pointer == "/lines/1/quantity"
    assert (free(), Order.objects.count()) == (5, 0)


def test_order_short_of_spools_gets_what_is_kept_past_its_hour(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    keep()
    early = take(None, (BLACK, 4), at="2027-03-01 11:59")
    assert early.lines[0].from_shelf == 3
    body = OrderDraft("WEB", "A-2", [(BLACK, 1)])
    late = place_order(body=body, clock=clock("2027-03-01 12:00"))
    # Two went back: the first waits for one of them, the second takes the other.
    assert late.lines[0].from_shelf == 1
    assert Allocation.objects.filter(end="", run_output=None).aggregate(n=Sum("quantity"))["n"] == 5


def test_visitor_takes_what_was_kept_as_an_order(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 2)
    kept = keep()
    taken = take(kept.order_id)
    assert (taken.kind, taken.lines[0].from_shelf, taken.due_day) == ("regular", 2, NOON.date())
    assert Order.objects.get(pk=kept.order_id).state == "cancelled"
    assert check_books() == []


def test_what_the_visitor_leaves_serves_who_waits(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 2)
    kept = keep()
    waiting = place_order(body=OrderDraft("WEB", "B", [(BLACK, 1)]), clock=clock("2027-03-01 10:30"))
    assert waiting.lines[0].from_shelf == 0
    assert take(kept.order_id, (BLACK, 1)).lines[0].from_shelf == 1
    assert Allocation.objects.filter(end="", order_line__order_id=waiting.order_id).count() == 1


def test_visitor_who_comes_too_late_is_told(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 2)
    kept = keep()
    end_past_kept(clock=clock("2027-03-01 12:00"))
    with pytest.raises(ClosedOrderError):
        take(kept.order_id, at="2027-03-01 12:01")
    assert not Order.objects.filter(reference="A-1").exists()


def test_kept_spools_are_given_back_by_hand(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 2)
    kept = keep()
    end_kept(order_id=kept.order_id, clock=clock("2027-03-01 10:30"))
    assert free() == 2


@pytest.mark.parametrize("number", [0, 1])
def test_only_what_is_kept_is_given_back_or_taken_over(plant: TinyPlant, stock: Callable, number: int) -> None:
    stock(plant.black_1kg, 2)
    order = place_order(body=OrderDraft("WEB", "B", [(BLACK, 1)]), clock=clock("2027-03-01 10:00"))
    given = (order.order_id, 999)[number]
    with pytest.raises((OrderFieldError, UnknownOrderError)[number]):
        end_kept(order_id=given, clock=clock("2027-03-01 10:30"))
    with pytest.raises((OrderFieldError, UnknownOrderError)[number]):
        take(given)
    assert order.lines[0].from_shelf == 1


def test_what_is_kept_is_not_due_and_neither_ships_nor_changes(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 2)
    kept = keep()
    assert (next_pick_up(now=local("2027-03-01 11:00")).orders, due_order(kept.order_id)) == ((), None)
    with pytest.raises(KeptOrderError, match="only kept for a visitor"):
        ship_order(order_id=kept.order_id, clock=clock("2027-03-01 11:00"))
    with pytest.raises(KeptOrderError):
        amend_order(order_id=kept.order_id, lines=[(BLACK, 1)], clock=clock("2027-03-01 11:00"))


def test_count_that_finds_less_takes_from_what_is_kept(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 2)
    keep()
    post_count(place_kind="shelf", counted=Decimal(1), clock=clock("2027-03-01 11:00"), sku_code=BLACK)
    assert (free(), check_books()) == (0, [])


def test_kept_twice_under_one_reference_is_kept_once(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    assert keep().order_id == keep().order_id
    assert free() == 3


def test_same_reference_with_another_hour_is_no_repeat(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    keep()
    with pytest.raises(ReferenceInUseError):
        keep(until="2027-03-01 16:00")


@pytest.mark.parametrize("until", ["2027-03-01 10:00", "2027-03-08 10:01"])
def test_end_is_ahead_and_within_a_week(plant: TinyPlant, stock: Callable, until: str) -> None:
    stock(plant.black_1kg, 5)
    with pytest.raises(OrderFieldError, match="at most 7 days ahead"):
        keep(until=until)


@pytest.mark.clean_error_of("order_kept_has_its_end")
@pytest.mark.parametrize("fields", [{"kind": "kept"}, {"kept_until": NOON}])
def test_only_what_is_kept_has_an_end(fields: dict[str, object]) -> None:
    with pytest.raises(OrderFieldError, match="has an end, and nothing else has"):
        OrderDraft("WEB", "A", [(BLACK, 1)], **fields)


@pytest.mark.refused_by_database("order_kept_has_its_end")
@pytest.mark.parametrize(
    "fields", [{"kept_until": None}, {"kind": "regular"}, {"kept_until": local("2027-03-01 09:00")}]
)
def test_kept_order_without_its_end_is_refused_by_the_database(
    plant: TinyPlant, stock: Callable, fields: dict[str, object]
) -> None:
    stock(plant.black_1kg, 5)
    keep()
    with refused("order_kept_has_its_end"):
        Order.objects.update(**fields)


@pytest.mark.clean_error_of("order_kept_never_ships")
def test_kept_order_is_not_shipped_by_the_service(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    with pytest.raises(KeptOrderError):
        ship_order(order_id=keep().order_id, clock=clock("2027-03-01 11:00"))


@pytest.mark.refused_by_database("order_kept_never_ships")
def test_shipped_kept_order_is_refused_by_the_database(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 5)
    keep()
    with refused("order_kept_never_ships"):
        Order.objects.update(state="shipped", closed_at=NOON)


@pytest.mark.django_db(transaction=True)
def test_visitor_and_orders_at_once_never_get_the_same_spools(plant: TinyPlant, stock: Callable) -> None:
    stock(plant.black_1kg, 4)
    kept_id = keep("K-1", (BLACK, 4)).order_id

    def other(number: int) -> OrderReceipt:
        body = OrderDraft("WEB", f"B-{number}", [(BLACK, 4)])
        return place_order(body=body, clock=clock("2027-03-01 12:00"))

    # The hour strikes: the visitor takes what is kept while three others, for whom it would go back, order as well.
    calls = [lambda: take(kept_id, (BLACK, 4), at="2027-03-01 12:00"), *(lambda n=n: other(n) for n in range(3))]
    answers = at_once(*calls)
    receipts = [one for one in answers if isinstance(one, OrderReceipt)]
    assert sum(one.lines[0].from_shelf for one in receipts) <= 4
    # Whoever loses the race reads that it has gone back, and nothing else.
    assert all(isinstance(one, OrderReceipt | ClosedOrderError) for one in answers)
    assert Allocation.objects.filter(end="").aggregate(n=Sum("quantity"))["n"] == 4
    assert (free(), check_books()) == (0, [])
