"""Packing: 38 spools of 1 kg lie dried in the oven since Monday 23:00 (see `floor`)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Allocation, Item, Movement, OrderLine, OvenLoad, Sku, SpoolSize
from inventory.services.ledger import NotEnoughStockError
from inventory.services.packing import pack
from tests.inventory.books.floor import KG, QUARTER, finished, loaded, packed
from tests.inventory.books.reading import awaited, lots_of, lying, shelf
from tests.inventory.builders import TinyPlant, clock, put_in_store, put_on_shelf

pytestmark = pytest.mark.django_db
Ordering = Callable[..., int]


def test_packing_puts_the_spools_on_the_shelf(stores: TinyPlant) -> None:
    run = packed()
    assert (shelf(stores.black_1kg), awaited(run.code, stores.black_1kg)) == ((38, 0), 0)


def test_packing_takes_a_box_for_each_spool(stores: TinyPlant) -> None:
    packed()
    assert lying(stores.black_1kg.spool_size.box_item, "resin_store") == 462


def test_packing_fewer_than_awaited_leaves_the_rest_awaited(stores: TinyPlant) -> None:
    run = packed(spools=30)
    assert (shelf(stores.black_1kg), awaited(run.code, stores.black_1kg)) == ((30, 0), 8)
    assert OvenLoad.objects.get().unloaded_at is None


def test_packing_the_rest_later_empties_the_oven(stores: TinyPlant) -> None:
    run = packed(spools=30)
    pack(spools=[(run.code, KG, 8)], clock=clock("2027-03-02 10:00"))
    assert (shelf(stores.black_1kg), awaited(run.code, stores.black_1kg)) == ((38, 0), 0)
    assert OvenLoad.objects.get().unloaded_at is not None


def test_packing_moves_the_promise_to_the_shelf(stores: TinyPlant, order: Ordering) -> None:
    order("A", {stores.black_1kg: 30}, at="2027-03-01 06:30")
    packed()
    held = Allocation.objects.get(end="")
    assert (held.run_output, held.quantity, shelf(stores.black_1kg)) == (None, 30, (38, 30))


def test_packing_a_part_shelves_the_first_due_order_first(stores: TinyPlant, order: Ordering) -> None:
    late = order("B", {stores.black_1kg: 10}, at="2027-03-01 14:30")
    early = order("A", {stores.black_1kg: 25}, at="2027-03-01 06:30")
    packed(spools=25)
    on_shelf = Allocation.objects.filter(end="", run_output__isnull=True)
    assert [row.order_line.order_id for row in on_shelf] == [early]
    assert Allocation.objects.get(end="", run_output__isnull=False).order_line.order_id == late


def test_packing_serves_an_order_that_waits(stores: TinyPlant, order: Ordering) -> None:
    # 45 wanted, 38 made: the last 7 come from a lot that was wound before the books opened.
    order("A", {stores.black_1kg: 45}, at="2027-03-01 06:30")
    put_on_shelf(stores.black_1kg, 7, place_kind="packing")
    packed()
    assert OrderLine.objects.get().promised_day is None
    pack(spools=[(None, KG, 7)], clock=clock("2027-03-02 09:00"))
    assert (OrderLine.objects.get().promised_day, shelf(stores.black_1kg)) == (date(2027, 3, 2), (45, 45))


def test_packing_without_a_source_takes_the_oldest_lot(stores: TinyPlant) -> None:
    put_on_shelf(stores.black_1kg, 5, lot_code="OLD", at="2027-02-01 08:00", place_kind="packing")
    put_on_shelf(stores.black_1kg, 5, lot_code="NEW", at="2027-02-02 08:00", place_kind="packing")
    movement = pack(spools=[(None, KG, 7)], clock=clock("2027-03-02 08:00"))
    assert lots_of(movement.pk)[:2] == [("OLD", 5), ("NEW", 2)]


def test_packing_two_rows_of_one_sku_does_not_take_the_same_spools_twice(stores: TinyPlant) -> None:
    put_on_shelf(stores.black_1kg, 5, place_kind="packing")
    with pytest.raises(NotEnoughStockError, match="4 named, 2 are dried"):
        pack(spools=[(None, KG, 3), (None, KG, 4)], clock=clock("2027-03-02 08:00"))


def test_packing_is_refused_while_the_load_dries(stores: TinyPlant) -> None:
    loaded()
    with pytest.raises(NotEnoughStockError, match="38 named, 0 are dried and ready") as refusal:
        pack(spools=[(None, KG, 38)], clock=clock("2027-03-01 22:59"))
    assert (refusal.value.pointer, lying(stores.black_1kg, "oven")) == ("/spools/0/quantity", 38)


def test_packing_is_refused_of_spools_that_still_have_to_dry(stores: TinyPlant) -> None:
    run = finished().run
    with pytest.raises(NotEnoughStockError, match="0 are dried and ready"):
        pack(spools=[(run.code, QUARTER, 1)], clock=clock("2027-03-02 08:00"))


def test_spools_that_need_no_drying_are_packed_as_wound(stores: TinyPlant) -> None:
    put_on_shelf(stores.natural_1kg, 4, place_kind="wound")
    pack(spools=[(None, "PETG-NAT-1000", 4)], clock=clock("2027-03-02 08:00"))
    assert shelf(stores.natural_1kg) == (4, 0)


def test_packing_is_accepted_when_the_books_hold_too_few_boxes(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, place_kind="packing")
    pack(spools=[(None, KG, 5)], clock=clock("2027-03-02 08:00"))
    assert lying(plant.black_1kg.spool_size.box_item, "count_difference") == -5


def test_packing_draws_desiccant_where_the_plant_keeps_it(stores: TinyPlant) -> None:
    bags = Item.objects.create(code="SILICA", name="desiccant bag", kind="desiccant", unit="piece")
    put_in_store(bags, "50", lot_code="LOT-SILICA")
    SpoolSize.objects.filter(code="S1000").update(desiccant_item=bags)
    put_on_shelf(stores.black_1kg, 5, lot_code="KG", place_kind="packing")
    put_on_shelf(stores.black_250g, 4, lot_code="QUARTER", place_kind="packing")
    pack(spools=[(None, KG, 5), (None, QUARTER, 4)], clock=clock("2027-03-02 08:00"))
    # Five bags for the kilogram spools, none for the small ones, whose size has no desiccant.
    assert (lying(bags, "resin_store"), lying(bags, "conversion")) == (45, 5)


@pytest.mark.parametrize(
    ("spools", "error", "message"),
    [
        ([], InvalidInputError, "No spools are named"),
        ([(None, KG, 0)], InvalidInputError, "0 spools of PLA-BLACK-1000"),
        ([(None, "PLA-PINK-1000", 1)], NotFoundError, "SKU 'PLA-PINK-1000'"),
    ],
)
def test_packing_is_refused(
    stores: TinyPlant, spools: list[tuple[str | None, str, int]], error: type[Exception], message: str
) -> None:
    with pytest.raises(error, match=message):
        pack(spools=spools, clock=clock("2027-03-02 08:00"))


def test_packing_names_its_run_as_document(stores: TinyPlant) -> None:
    run = packed()
    assert Movement.objects.get(kind="pack").document == run.code


def test_packing_twenty_rows_costs_the_queries_of_one(
    stores: TinyPlant, many_skus: list[Sku], queries_of: Callable[..., int]
) -> None:
    for sku in many_skus:
        put_on_shelf(sku, 5, place_kind="packing")

    def pack_all(skus: list[Sku]) -> None:
        pack(spools=[(None, sku.item.code, 3) for sku in skus], clock=clock("2027-03-02 08:00"))

    assert queries_of(pack_all, many_skus[:20]) == queries_of(pack_all, many_skus[20:])
