"""Receipts, scrap, own use, samples and returns. Sums by hand: common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.contrib.auth.models import User

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Lot, Movement, Order, PromiseChange
from inventory.services.holds import hold_lot
from inventory.services.ledger import LotHeldError, NotEnoughStockError
from inventory.services.receipts import LotInUseError, receive_material
from inventory.services.returns import receive_return, restock
from inventory.services.scrap import scrap, take_own_use, take_samples
from inventory.services.shipments import ship_order
from tests.inventory.books.reading import lots_of, lying, shelf
from tests.inventory.builders import TinyPlant, clock, put_in_store, put_on_shelf

pytestmark = pytest.mark.django_db
Ordering = Callable[..., int]
KG = "PLA-BLACK-1000"
MONDAY, NOON = clock("2027-03-01 10:00"), clock("2027-03-01 12:00")


def _receive(**fields: object) -> Lot:
    body = {"item_code": "RESIN-PLA", "quantity": Decimal(25), "lot_code": "R1", "supplier_lot": "A-77"}
    return receive_material(**{**body, "clock": MONDAY, **fields})


def test_receipt_puts_the_material_into_the_store(plant: TinyPlant) -> None:
    lot = _receive()
    assert (lot.supplier_lot, lying(plant.black.material.resin_item, "resin_store")) == ("A-77", 25)


def test_receipt_of_a_lot_in_two_deliveries_adds_up(plant: TinyPlant) -> None:
    assert _receive() == _receive(quantity=Decimal("10.5"))
    assert lying(plant.black.material.resin_item, "resin_store") == Decimal("35.5")


def test_receipt_notes_who_posted_it(plant: TinyPlant) -> None:
    user = User.objects.create(username="floor")
    _receive(posted_by=user)
    assert Movement.objects.get().posted_by == user


@pytest.mark.parametrize(
    ("fields", "error", "message"),
    [
        ({"item_code": "RESIN-X"}, NotFoundError, "Item 'RESIN-X'"),
        ({"item_code": KG}, InvalidInputError, "is a SKU"),
        ({"lot_code": " "}, InvalidInputError, "needs a lot code"),
        ({"lot_code": "L" * 41}, InvalidInputError, "lot has 41 characters"),
        ({"supplier_lot": "L" * 61}, InvalidInputError, "supplier_lot has 61 characters"),
        ({"quantity": Decimal(0)}, InvalidInputError, "must be a number above 0"),
        ({"item_code": "BOX-S1000", "quantity": Decimal("0.5")}, InvalidInputError, "whole number of pieces"),
    ],
)
def test_receipt_is_refused(plant: TinyPlant, fields: dict[str, object], error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        _receive(**fields)
    assert not Lot.objects.exists()


@pytest.mark.parametrize("fields", [{"item_code": "MB-BLACK"}, {"supplier_lot": "B-1"}])
def test_receipt_is_refused_when_the_lot_is_another(plant: TinyPlant, fields: dict[str, object]) -> None:
    _receive()
    with pytest.raises(LotInUseError, match="Lot R1 is of RESIN-PLA, supplier's lot A-77"):
        _receive(**fields)


def test_receipt_is_refused_of_a_held_lot(plant: TinyPlant) -> None:
    _receive()
    hold_lot(lot_code="R1", clock=NOON, reason="wet bags")
    with pytest.raises(LotHeldError, match="R1 is held"):
        _receive(clock=NOON)


def test_scrap_takes_the_oldest_lot_first(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 3, lot_code="NEW", at="2027-02-02 08:00")
    put_on_shelf(plant.black_1kg, 3, lot_code="OLD", at="2027-02-01 08:00")
    movement = scrap(item_code=KG, quantity=4, clock=MONDAY, reason="torn")
    assert lots_of(movement.pk) == [("OLD", 3), ("NEW", 1)]


def test_scrap_of_a_named_lot_takes_that_lot(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 3, lot_code="OLD", at="2027-02-01 08:00")
    put_on_shelf(plant.black_1kg, 3, lot_code="NEW", at="2027-02-02 08:00")
    movement = scrap(item_code=KG, quantity=2, lot_code="NEW", clock=MONDAY, reason="torn")
    assert lots_of(movement.pk) == [("NEW", 2)]


def test_scrap_frees_what_was_promised_of_it(plant: TinyPlant, order: Ordering) -> None:
    put_on_shelf(plant.black_1kg, 5)
    order("A", {plant.black_1kg: 4})
    scrap(item_code=KG, quantity=2, clock=MONDAY, reason="torn")
    assert shelf(plant.black_1kg) == (3, 3)
    assert PromiseChange.objects.first().cause == "torn"


@pytest.mark.parametrize(
    ("fields", "error", "message"),
    [
        ({"quantity": 6}, NotEnoughStockError, "6 asked for, 5 can be taken"),
        ({"quantity": 0}, InvalidInputError, "above 0"),
        ({"reason": " "}, InvalidInputError, "Say why"),
        ({"item_code": "NOTHING"}, NotFoundError, "Item 'NOTHING'"),
        ({"lot_code": "L9"}, NotFoundError, "Lot 'L9' of PLA-BLACK-1000"),
        ({"place_kind": "oven"}, InvalidInputError, "Place 'oven' must be one of"),
        ({"place_kind": "customer"}, InvalidInputError, "Place 'customer' must be one of"),
    ],
)
def test_scrap_is_refused(plant: TinyPlant, fields: dict[str, object], error: type[Exception], message: str) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with pytest.raises(error, match=message):
        scrap(**{"item_code": KG, "quantity": 1, "reason": "torn", "clock": MONDAY, **fields})
    assert shelf(plant.black_1kg) == (5, 0)


def test_scrap_of_material_leaves_the_store(plant: TinyPlant) -> None:
    put_in_store(plant.black.material.resin_item, "25", lot_code="R1")
    scrap(item_code="RESIN-PLA", quantity=Decimal("0.5"), place_kind="resin_store", clock=MONDAY, reason="swept up")
    assert lying(plant.black.material.resin_item, "resin_store") == Decimal("24.5")


def test_own_use_and_samples_are_places_of_their_own(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    take_own_use(sku_code=KG, quantity=2, clock=MONDAY, reason="jigs")
    take_samples(sku_code=KG, quantity=1, clock=MONDAY, reason="trade fair")
    assert [lying(plant.black_1kg, kind) for kind in ("own_use", "samples", "shelf")] == [2, 1, 2]


def _shipped(plant: TinyPlant, order: Ordering) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    ship_order(order_id=order("A", {plant.black_1kg: 3}), lines=None, clock=MONDAY, posted_by=None, document="")


def test_return_waits_for_inspection(plant: TinyPlant, order: Ordering) -> None:
    _shipped(plant, order)
    receive_return(sku_code=KG, lot_code="S1", quantity=2, clock=NOON)
    assert (lying(plant.black_1kg, "returns"), shelf(plant.black_1kg)) == (2, (2, 0))
    assert Order.objects.get().state == "shipped"


def test_return_is_refused_of_more_than_customers_have(plant: TinyPlant, order: Ordering) -> None:
    _shipped(plant, order)
    with pytest.raises(NotEnoughStockError, match="4 asked for, 3 can be taken"):
        receive_return(sku_code=KG, lot_code="S1", quantity=4, clock=NOON)


def test_restock_serves_an_order_that_waits(plant: TinyPlant, order: Ordering) -> None:
    _shipped(plant, order)
    order("B", {plant.black_1kg: 4}, at="2027-03-01 11:00")
    receive_return(sku_code=KG, lot_code="S1", quantity=2, clock=NOON)
    restock(sku_code=KG, lot_code="S1", quantity=2, clock=clock("2027-03-01 13:00"))
    assert shelf(plant.black_1kg) == (4, 4)


def test_restock_is_refused_of_a_lot_that_was_held_meanwhile(plant: TinyPlant, order: Ordering) -> None:
    _shipped(plant, order)
    hold_lot(lot_code="S1", clock=NOON, reason="diameter")
    receive_return(sku_code=KG, lot_code="S1", quantity=2, clock=clock("2027-03-01 13:00"))
    with pytest.raises(LotHeldError, match="S1 is held"):
        restock(sku_code=KG, lot_code="S1", quantity=2, clock=clock("2027-03-01 14:00"))


def test_returns_can_be_scrapped(plant: TinyPlant, order: Ordering) -> None:
    _shipped(plant, order)
    receive_return(sku_code=KG, lot_code="S1", quantity=2, clock=NOON)
    scrap(item_code=KG, quantity=2, place_kind="returns", clock=NOON, reason="opened")
    assert (lying(plant.black_1kg, "returns"), lying(plant.black_1kg, "scrap")) == (0, 2)
