"""Lots traced from the customer to the resin and forward. The chain is laid by hand: common practice, no source.

The run of `floor` draws 44.59 kg of resin: 20 kg of lot R-OLD and 24.59 kg of LOT-PLA. Three of its spools ship.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from inventory.errors import NotFoundError
from inventory.selectors.lots import trace_back_lot, trace_back_order, trace_forward
from inventory.services.shipments import ship_order
from tests.inventory.books.floor import KG, QUARTER, packed
from tests.inventory.builders import TinyPlant, clock, put_in_store, put_on_shelf

pytestmark = [pytest.mark.django_db, pytest.mark.database]
Chain = tuple[int, str]


@pytest.fixture
def chain(stores: TinyPlant, order: Callable[..., int]) -> Chain:
    """Order id and run code, after the shipment."""
    put_in_store(stores.black.material.resin_item, "20", lot_code="R-OLD", at="2027-02-01 08:00")
    order_id = order("A", {stores.black_1kg: 3}, at="2027-03-01 06:30")
    run = packed()
    ship_order(order_id=order_id, lines=None, clock=clock("2027-03-02 10:00"), posted_by=None, document="")
    return order_id, run.code


def test_order_is_traced_back_to_its_lots_of_resin(chain: Chain) -> None:
    order_id, _ = chain
    resin = [row for row in trace_back_order(order_id=order_id).materials if row.item_code == "RESIN-PLA"]
    assert [(row.lot_code, row.quantity) for row in resin] == [("LOT-PLA", Decimal("24.59")), ("R-OLD", 20)]


def test_order_is_traced_back_to_its_lot_of_spools(chain: Chain) -> None:
    order_id, run_code = chain
    (spools,) = trace_back_order(order_id=order_id).spools
    assert (spools.lot_code, spools.run_code, spools.quantity) == (f"{run_code}-{KG}", run_code, 3)


def test_lot_of_spools_is_traced_back_to_concentrate_and_empty_spools(chain: Chain) -> None:
    _, run_code = chain
    found = {row.item_code for row in trace_back_lot(lot_code=f"{run_code}-{KG}").materials}
    assert found == {"RESIN-PLA", "MB-BLACK", "SPOOL-S1000", "SPOOL-S250"}


def test_resin_lot_is_traced_forward_to_the_customer(chain: Chain) -> None:
    order_id, run_code = chain
    trace = trace_forward(lot_code="R-OLD")
    assert trace.runs == (run_code,)
    assert [(row.order_id, row.lot_code, row.quantity) for row in trace.delivered] == [
        (order_id, f"{run_code}-{KG}", 3)
    ]


def test_resin_lot_is_traced_forward_to_where_its_spools_lie(chain: Chain) -> None:
    _, run_code = chain
    lying = {(row.lot_code, row.place): row.quantity for row in trace_forward(lot_code="R-OLD").where_now}
    assert lying == {
        (f"{run_code}-{KG}", "shelf"): 35,
        (f"{run_code}-{KG}", "customer"): 3,
        (f"{run_code}-{KG}", "scrap"): 1,
        (f"{run_code}-{QUARTER}", "wound, waiting for the oven"): 20,
    }


def test_spool_lot_is_traced_forward_to_the_customer(chain: Chain) -> None:
    order_id, run_code = chain
    assert [row.order_id for row in trace_forward(lot_code=f"{run_code}-{KG}").delivered] == [order_id]


def test_spools_from_before_the_books_have_no_run(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    trace = trace_back_lot(lot_code="S1")
    assert (trace.spools[0].run_code, trace.spools[0].quantity, trace.materials) == (None, 5, ())


def test_unused_resin_lot_is_traced_to_the_store(plant: TinyPlant) -> None:
    put_in_store(plant.black.material.resin_item, "20", lot_code="R1")
    trace = trace_forward(lot_code="R1")
    assert (trace.runs, trace.spools, trace.where_now[0].place) == ((), (), "resin and parts store")


@pytest.mark.parametrize(
    ("trace", "argument", "message"),
    [
        (trace_back_order, {"order_id": 9}, "Order 9"),
        (trace_back_lot, {"lot_code": "S9"}, "Lot 'S9' of spools"),
        (trace_forward, {"lot_code": "S9"}, "Lot 'S9'"),
    ],
)
def test_trace_of_an_unknown_record_is_refused(
    plant: TinyPlant, trace: Callable[..., object], argument: dict[str, object], message: str
) -> None:
    with pytest.raises(NotFoundError, match=message):
        trace(**argument)
