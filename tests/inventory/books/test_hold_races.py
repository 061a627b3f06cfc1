"""A hold against parcels that leave: from the moment that a hold is written nothing of its lot leaves the shelf.

Two real connections each. One stops between its work and its commit until the other one is known to wait for it; on
PostgreSQL the server says so, on SQLite the one write lock makes it wait.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from threading import Event

import pytest
from django.db import connection, transaction

from inventory.models import Lot, Movement, MovementLine, Order
from inventory.order_errors import NotAllocatedError
from inventory.services.holds import hold_lot, hold_lots
from inventory.services.shipments import ship_order
from tests.inventory.at_once import at_once
from tests.inventory.books.reading import lying, shelf
from tests.inventory.builders import TinyPlant, clock, put_in_store, put_on_shelf

pytestmark = pytest.mark.django_db(transaction=True)
Ordering = Callable[..., int]
TEN = clock("2027-03-01 10:00")
LONGEST_WAIT_S = 10
SHIPPED_OR_REFUSED = {"Shipment", "Movement", "NotAllocatedError", "PartShipmentError"}


def first_then(first: Callable[[], object], second: Callable[[], object]) -> list[object]:
    """Run both; the second starts when the first has done its work, which commits when the second waits for it."""
    is_done = Event()

    def slow() -> object:
        with transaction.atomic():
            answer = first()
            is_done.set()
            _wait_until_somebody_waits()
        return answer

    def late() -> object:
        assert is_done.wait(LONGEST_WAIT_S)
        return second()

    return at_once(slow, late)


def _wait_until_somebody_waits() -> None:
    if connection.vendor == "sqlite":
        time.sleep(0.3)
        return
    asked = "SELECT count(*) FROM pg_locks WHERE NOT granted"
    until = time.monotonic() + LONGEST_WAIT_S
    with connection.cursor() as cursor:
        while time.monotonic() < until:
            cursor.execute(asked)
            if cursor.fetchone()[0]:
                return
            time.sleep(0.01)
    raise AssertionError("Nobody waits: the two do not meet at a lock.")


def hold(code: str) -> Callable[[], object]:
    return partial(hold_lot, lot_code=code, clock=TEN, reason="diameter")


def ship(order_id: int) -> Callable[[], object]:
    return partial(ship_order, order_id=order_id, clock=TEN)


def left_after_the_hold(code: str) -> int:
    """How many times spools of the lot left by a movement that was written after its hold."""
    held = Movement.objects.get(kind="hold", lines__lot__code=code)
    return MovementLine.objects.filter(lot__code=code, movement__kind="shipment", movement_id__gt=held.pk).count()


def test_parcel_that_comes_while_its_only_lot_is_put_on_hold_does_not_leave(plant: TinyPlant, order: Ordering) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    answers = first_then(hold("S1"), ship(order("A", {plant.black_1kg: 3})))
    assert isinstance(answers[1], NotAllocatedError)
    assert (lying(plant.black_1kg, "customer"), lying(plant.black_1kg, "hold")) == (0, 5)


def test_parcel_that_comes_while_one_of_two_lots_is_put_on_hold_takes_the_other(
    plant: TinyPlant, order: Ordering
) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    put_on_shelf(plant.black_1kg, 5, lot_code="S2")
    first_then(hold("S1"), ship(order("A", {plant.black_1kg: 3})))
    shipped = MovementLine.objects.filter(movement__kind="shipment")
    assert [(line.lot.code, line.quantity) for line in shipped] == [("S2", 3)]


def test_hold_that_comes_while_a_parcel_leaves_takes_what_is_left(plant: TinyPlant, order: Ordering) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    first_then(ship(order("A", {plant.black_1kg: 3})), hold("S1"))
    assert (lying(plant.black_1kg, "customer"), lying(plant.black_1kg, "hold")) == (3, 2)
    assert left_after_the_hold("S1") == 0


def test_parcel_waits_for_a_hold_of_several_lots(plant: TinyPlant, order: Ordering) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    put_on_shelf(plant.natural_1kg, 5, lot_code="N1")
    put_in_store(plant.black.material.resin_item, "20", lot_code="R1")
    recall = partial(hold_lots, lot_codes=["R1", "S1", "N1"], clock=TEN, reason="recall")
    answers = first_then(recall, ship(order("A", {plant.natural_1kg: 1, plant.black_1kg: 1})))
    assert isinstance(answers[1], NotAllocatedError)
    assert set(Lot.objects.filter(is_held=True).values_list("code", flat=True)) == {"R1", "S1", "N1"}


@pytest.mark.parametrize("turn", range(5))
def test_holds_and_parcels_all_at_once_let_nothing_leave_after_the_hold(
    plant: TinyPlant, order: Ordering, turn: int
) -> None:
    put_on_shelf(plant.black_1kg, 9, lot_code="S1")
    put_on_shelf(plant.black_1kg, 3, lot_code="S2")
    orders = [order(f"A-{number}", {plant.black_1kg: 2}) for number in range(4)]
    calls = [ship(one) for one in orders]
    answers = at_once(*calls[:turn], hold("S1"), *calls[turn:])
    assert {type(answer).__name__ for answer in answers} <= SHIPPED_OR_REFUSED
    assert left_after_the_hold("S1") == 0
    assert shelf(plant.black_1kg)[0] == 12 - 2 * Order.objects.filter(state="shipped").count() - int(
        lying(plant.black_1kg, "hold")
    )
