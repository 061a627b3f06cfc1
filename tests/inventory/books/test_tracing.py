"""Lots traced from the customer to the resin and forward. The chain is laid by hand: common practice, no source.

The run of `floor` draws 44.59 kg of resin: 20 kg of lot R-OLD and 24.59 kg of LOT-PLA. Three of its spools ship.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from inventory.errors import NotFoundError
from inventory.models import Lot, Order, Shipment, Sku
from inventory.selectors.lots import Trace, trace_lot, trace_order, trace_run, trace_shipment
from inventory.selectors.traceable import Traceable, found_to_trace
from inventory.services.holds import hold_lot
from inventory.services.shipments import ship_order
from tests.inventory.books.floor import KG, QUARTER, finished, packed
from tests.inventory.builders import TinyPlant, clock, local, put_in_store, put_on_shelf

pytestmark = pytest.mark.django_db
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
    resin = [row for row in trace_order(order_id).materials if row.item_code == "RESIN-PLA"]
    assert [(row.lot_code, row.quantity) for row in resin] == [("LOT-PLA", Decimal("24.59")), ("R-OLD", 20)]


def test_order_is_traced_back_to_its_lot_of_spools(chain: Chain) -> None:
    order_id, run_code = chain
    (spools,) = trace_order(order_id).spools
    assert (spools.lot_code, spools.run_code, spools.quantity) == (f"{run_code}-{KG}", run_code, 3)


def test_lot_of_spools_is_traced_back_to_concentrate_and_empty_spools(chain: Chain) -> None:
    _, run_code = chain
    found = {row.item_code for row in trace_lot(f"{run_code}-{KG}").materials}
    assert found == {"RESIN-PLA", "MB-BLACK", "SPOOL-S1000", "SPOOL-S250"}


def test_resin_lot_is_traced_forward_to_the_customer(chain: Chain) -> None:
    order_id, run_code = chain
    trace = trace_lot("R-OLD")
    assert trace.runs == (run_code,)
    assert [(row.order_id, row.lot_code, row.quantity) for row in trace.delivered] == [
        (order_id, f"{run_code}-{KG}", 3)
    ]


def test_resin_lot_is_traced_forward_to_where_its_spools_lie(chain: Chain) -> None:
    _, run_code = chain
    lying = {(row.lot_code, row.place_code): row.quantity for row in trace_lot("R-OLD").places}
    assert lying == {
        (f"{run_code}-{KG}", "SHELF"): 35,
        (f"{run_code}-{KG}", "CUSTOMER"): 3,
        (f"{run_code}-{KG}", "SCRAP"): 1,
        (f"{run_code}-{QUARTER}", "WOUND"): 20,
    }


def test_spool_lot_is_traced_forward_to_the_customer(chain: Chain) -> None:
    order_id, run_code = chain
    assert [row.order_id for row in trace_lot(f"{run_code}-{KG}").delivered] == [order_id]


def test_spools_from_before_the_books_have_no_run(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    trace = trace_lot("S1")
    assert (trace.spools[0].run_code, trace.spools[0].quantity, trace.materials) == (None, 5, ())


def test_run_is_traced_both_ways(chain: Chain) -> None:
    order_id, run_code = chain
    trace = trace_run(run_code)
    assert {row.lot_code for row in trace.materials} >= {"R-OLD", "LOT-PLA"}
    assert [(row.sku_code, row.quantity) for row in trace.spools] == [(KG, 39), (QUARTER, 20)]
    assert [row.order_id for row in trace.delivered] == [order_id]


def test_trace_of_an_unknown_run_is_refused(plant: TinyPlant) -> None:
    with pytest.raises(NotFoundError, match="There is no run 'R9'"):
        trace_run("R9")


def test_places_say_what_is_still_in_the_plant(chain: Chain) -> None:
    lying = {row.place_code for row in trace_lot("R-OLD").places if row.is_in_plant}
    assert lying == {"SHELF", "WOUND"}


def test_resin_of_no_known_lot_may_be_of_the_recalled_one(plant: TinyPlant) -> None:
    resin = plant.black.material.resin_item
    put_in_store(resin, "20", lot_code="R-SHORT", at="2027-02-01 08:00")
    run_code = finished().run.code
    trace = trace_lot("R-SHORT")
    # The run drew 44.59 kg, 20 of them known.
    assert [(row.run_code, row.quantity) for row in trace.unexplained] == [(run_code, Decimal("24.59"))]
    put_in_store(resin, "20", lot_code="R-LATER", at="2027-03-02 08:00")
    assert trace_lot("R-LATER").unexplained == ()


def test_trace_is_found_by_the_suppliers_own_code_of_a_lot(chain: Chain) -> None:
    Lot.objects.filter(code="R-OLD").update(supplier_lot="SUP-9")
    assert found_to_trace("SUP-9") == (Traceable("lot", "R-OLD", "lot R-OLD of RESIN-PLA"),)


@pytest.mark.parametrize("kind", ["lot", "run", "order"])
def test_trace_is_found_by_our_own_words(chain: Chain, kind: str) -> None:
    order_id, run_code = chain
    words, key = {"lot": ("R-OLD", "R-OLD"), "run": (run_code, run_code), "order": ("A", str(order_id))}[kind]
    assert [(one.kind, one.key) for one in found_to_trace(words)] == [(kind, key)]


def test_part_of_a_code_begins_no_trace(chain: Chain) -> None:
    assert found_to_trace("R-OL") == found_to_trace("%") == ()


def test_unused_resin_lot_is_traced_to_the_store(plant: TinyPlant) -> None:
    put_in_store(plant.black.material.resin_item, "20", lot_code="R1")
    trace = trace_lot("R1")
    assert (trace.runs, trace.spools, trace.places[0].place_code) == ((), (), "RESIN-STORE")


def test_shipment_is_traced_like_its_order(chain: Chain) -> None:
    order_id, _ = chain
    assert trace_shipment(Shipment.objects.get().pk) == trace_order(order_id)


def test_shipments_of_one_order_are_traced_apart(stores: TinyPlant, order: Callable[..., int]) -> None:
    put_on_shelf(stores.black_1kg, 2, lot_code="S1")
    put_on_shelf(stores.black_1kg, 2, lot_code="S2", at="2027-03-01 06:30")
    order_id = order("A", {stores.black_1kg: 3})
    Order.objects.update(may_part_ship=True)
    first, second = (
        ship_order(order_id=order_id, lines={1: spools}, clock=clock("2027-03-01 10:00")).pk for spools in (2, 1)
    )
    assert [(row.lot_code, row.quantity) for row in trace_shipment(first).spools] == [("S1", 2)]
    assert [(row.lot_code, row.quantity) for row in trace_shipment(second).spools] == [("S2", 1)]
    assert [row.quantity for row in trace_order(order_id).delivered] == [2, 1]


def test_order_of_which_nothing_left_has_an_empty_trace(plant: TinyPlant, order: Callable[..., int]) -> None:
    assert trace_order(order("A", {plant.black_1kg: 3})) == Trace(spools=(), materials=(), places=(), delivered=())


def test_trace_as_of_knows_only_what_was_known(chain: Chain) -> None:
    _, run_code = chain
    packed_not_shipped = trace_lot("R-OLD", as_of=local("2027-03-02 09:00"))
    assert (packed_not_shipped.runs, packed_not_shipped.delivered) == ((run_code,), ())
    assert ("SHELF", 38) in [(row.place_code, row.quantity) for row in packed_not_shipped.places]
    assert trace_lot("R-OLD", as_of=local("2027-03-01 09:00")).runs == ()


def test_trace_says_which_lots_are_held(chain: Chain) -> None:
    order_id, run_code = chain
    hold_lot(lot_code=f"{run_code}-{KG}", clock=clock("2027-03-02 11:00"), reason="diameter")
    assert trace_order(order_id).spools[0].is_held is True


def test_trace_makes_the_same_queries_for_one_lot_and_for_many(
    chain: Chain, queries_of: Callable[..., int], order: Callable[..., int]
) -> None:
    order_id, _ = chain
    one = queries_of(trace_order, order_id)
    for number in range(5):
        put_on_shelf(Sku.objects.get(item__code=QUARTER), 1, lot_code=f"Q{number}", at="2027-03-02 10:00")
    many_id = order("B", {Sku.objects.get(item__code=QUARTER): 5}, at="2027-03-02 11:00")
    ship_order(order_id=many_id, clock=clock("2027-03-02 12:00"))
    assert len(trace_order(many_id).spools) == 5
    # Lots from before the books have no material to look up.
    assert queries_of(trace_order, many_id) == one - 1


def test_trace_of_an_unknown_lot_is_refused(plant: TinyPlant) -> None:
    with pytest.raises(NotFoundError, match="There is no lot 'S9'"):
        trace_lot("S9")
