"""The check finds each fault that is planted, and the rebuild mends what can be mended."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db.models import F

from inventory.models import (
    Allocation,
    Balance,
    Lot,
    Movement,
    MovementLine,
    OrderLine,
    Run,
    RunOutput,
    ShelfStock,
    Shipment,
    ShipmentLine,
)
from inventory.selectors.check import check_books
from inventory.services.ledger import place
from inventory.services.rebuild import Rebuilt, rebuild_balances
from inventory.services.runs import cancel_run
from inventory.services.shipments import ship_order
from tests.inventory.books.floor import KG, finished, released
from tests.inventory.books.reading import shelf
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf
from tests.inventory.undoing import undone

pytestmark = pytest.mark.django_db
Ordering = Callable[..., int]


@pytest.fixture
def busy(stores: TinyPlant, order: Ordering) -> TinyPlant:
    """Stock on the shelf, an order on it, an order on a finished run, a shipment."""
    put_on_shelf(stores.black_1kg, 10, lot_code="S1")
    order("A", {stores.black_1kg: 4}, at="2027-03-01 06:30")
    sent = order("B", {stores.black_1kg: 3}, at="2027-03-01 06:40")
    order("C", {stores.black_250g: 5}, at="2027-03-01 06:50")
    finished()
    ship_order(order_id=sent, lines=None, clock=clock("2027-03-01 10:00"), posted_by=None, document="")
    return stores


def _line(lot: Lot, spools: int, source: str, target: str, *, at: str) -> MovementLine:
    """A line written past every service."""
    movement = Movement.objects.create(kind="count", occurred_at=local(at), known_at=local(at))
    return MovementLine.objects.create(
        movement=movement,
        item=lot.item,
        lot=lot,
        quantity=Decimal(spools),
        from_place=place(source),
        to_place=place(target),
    )


def _wrong_balance() -> None:
    Balance.objects.filter(lot__code="S1", place__kind="shelf").update(quantity=8)


def _missing_balance() -> None:
    Balance.objects.filter(lot__code="S1", place__kind="shelf").delete()


def _wrong_copy() -> None:
    Balance.objects.filter(lot__code="S1", place__kind="customer").update(is_physical=True)


def _negative_past() -> None:
    lot = Lot.objects.get(code="S1")
    _line(lot, 1, "shelf", "count_difference", at="2027-02-28 08:00")
    _line(lot, 1, "count_difference", "shelf", at="2027-03-01 18:00")


def _line_of_another_item() -> None:
    line = _line(Lot.objects.get(code="S1"), 1, "count_difference", "samples", at="2027-03-01 18:00")
    MovementLine.objects.create(
        movement=line.movement,
        item=Lot.objects.get(code="LOT-PLA").item,
        lot=line.lot,
        quantity=1,
        from_place=line.to_place,
        to_place=line.from_place,
    )


def _held_on_shelf() -> None:
    Lot.objects.filter(code="S1").update(is_held=True)


def _wrong_on_shelf() -> None:
    ShelfStock.objects.filter(sku__item__code=KG).update(on_shelf=99)


def _wrong_allocated() -> None:
    ShelfStock.objects.filter(sku__item__code=KG).update(allocated=1)


def _wrong_output_allocated() -> None:
    RunOutput.objects.filter(allocated__gt=0).update(allocated=1)


def _wrong_awaited() -> None:
    RunOutput.objects.filter(sku__item__code=KG).update(awaited=40)


def _wrong_line_quantity() -> None:
    OrderLine.objects.filter(order__reference="A").update(quantity=5)


def _wrong_line_shipped() -> None:
    OrderLine.objects.filter(order__reference="B").update(shipped=2)


def _closed_holder() -> None:
    order = OrderLine.objects.get(order__reference="A").order
    order.state, order.closed_at = "cancelled", local("2027-03-01 12:00")
    order.save()


def _allocated_twice() -> None:
    line = OrderLine.objects.get(order__reference="A")
    at = local("2027-03-01 12:00")
    output = RunOutput.objects.get(sku__item__code=KG)
    Allocation.objects.create(order_line=line, run_output=output, quantity=1, created_at=at, created_known_at=at)


def _allocation_of_another_sku() -> None:
    Allocation.objects.filter(run_output__isnull=False).update(run_output=RunOutput.objects.get(sku__item__code=KG))


def _shipment_without_movement() -> None:
    at = local("2027-03-01 10:00") + timedelta(hours=1)
    line = OrderLine.objects.get(order__reference="A")
    parcel = Shipment.objects.create(order=line.order, ship_day=at.date(), shipped_at=at, known_at=at)
    ShipmentLine.objects.create(shipment=parcel, order_line=line, quantity=1)


def _wrong_mass_in() -> None:
    Run.objects.update(mass_in_kg=44)


def _wrong_good() -> None:
    RunOutput.objects.filter(sku__item__code=KG).update(good=37)


def _unflagged_difference() -> None:
    Run.objects.update(mass_out_kg=60)


@pytest.mark.parametrize(
    ("plant_fault", "rule"),
    [
        (_wrong_balance, "balance_is_ledger_sum"),
        (_missing_balance, "balance_is_ledger_sum"),
        (_wrong_copy, "balance_copies_its_place_and_lot"),
        (_negative_past, "physical_place_never_negative"),
        (_line_of_another_item, "line_is_of_its_lots_item"),
        (_held_on_shelf, "held_lot_not_on_shelf"),
        (_wrong_on_shelf, "shelf_is_its_balances"),
        (_wrong_allocated, "shelf_allocated_is_live"),
        (_wrong_output_allocated, "output_allocated_is_live"),
        (_wrong_awaited, "output_awaited_is_pipeline"),
        (_wrong_line_quantity, "line_is_its_changes"),
        (_wrong_line_shipped, "line_shipped_is_its_shipments"),
        (_closed_holder, "closed_order_holds_nothing"),
        (_allocated_twice, "line_not_allocated_twice"),
        (_allocation_of_another_sku, "allocation_is_of_its_lines_sku"),
        (_shipment_without_movement, "shipment_is_its_movement"),
        (_wrong_mass_in, "run_mass"),
        (_wrong_good, "run_mass"),
        (_unflagged_difference, "run_mass"),
    ],
)
def test_check_finds_the_fault(busy: TinyPlant, plant_fault: Callable[[], None], rule: str) -> None:
    with undone():
        plant_fault()
        assert rule in {fault.rule for fault in check_books()}


def test_command_says_that_the_books_are_right(busy: TinyPlant) -> None:
    out = StringIO()
    call_command("check_books", stdout=out)
    assert out.getvalue() == "The books are right.\n"


def test_command_prints_the_faults_and_fails(busy: TinyPlant) -> None:
    out = StringIO()
    with undone():
        _wrong_on_shelf()
        with pytest.raises(CommandError) as failure:
            call_command("check_books", stdout=out)
    assert failure.value.returncode == 1
    assert "shelf_is_its_balances: SKU" in out.getvalue()


def _balances() -> list[tuple[object, ...]]:
    return list(Balance.objects.order_by("place", "lot").values_list("place", "lot", "item", "is_physical", "quantity"))


def test_rebuild_changes_nothing_when_the_books_are_right(busy: TinyPlant) -> None:
    before = _balances()
    assert rebuild_balances(clock=clock("2027-03-01 18:00")) == Rebuilt(balances=0, shelves=0, outputs=0)
    assert _balances() == before


@pytest.mark.parametrize("plant_fault", [_wrong_balance, _missing_balance, _wrong_copy, _wrong_on_shelf])
def test_rebuild_writes_the_balances_bit_for_bit(busy: TinyPlant, plant_fault: Callable[[], None]) -> None:
    before = _balances()
    plant_fault()
    rebuild_balances(clock=clock("2027-03-01 18:00"))
    assert (_balances(), shelf(busy.black_1kg)) == (before, (7, 4))


def test_rebuild_writes_all_balances_from_nothing(busy: TinyPlant) -> None:
    before = _balances()
    Balance.objects.all().delete()
    assert rebuild_balances(clock=clock("2027-03-01 18:00")).balances == len(before)
    assert _balances() == before


def test_rebuild_frees_what_is_promised_of_spools_that_are_not_there(busy: TinyPlant) -> None:
    # The shelf count says 7 with 4 promised; the ledger is made to say 2 by a line written past the services.
    _line(Lot.objects.get(code="S1"), 5, "shelf", "count_difference", at="2027-03-01 17:00")
    rebuild_balances(clock=clock("2027-03-01 18:00"))
    assert shelf(busy.black_1kg) == (2, 2)


def _outputs() -> list[tuple[object, ...]]:
    return list(RunOutput.objects.order_by("id").values_list("sku", "awaited", "allocated", "shelf_day"))


@pytest.mark.parametrize("wrong_by", [-7, 100])
def test_rebuild_writes_the_awaited_spools_bit_for_bit(busy: TinyPlant, wrong_by: int) -> None:
    # A run that is finished (38 and 20 good), one that is released (40 and 20 planned) and one that is cancelled.
    cancel_run(run_code=released().code, clock=clock("2027-03-01 17:00"))
    released()
    before = _outputs()
    assert [awaited for _, awaited, *_ in before] == [38, 20, 0, 0, 40, 20]
    RunOutput.objects.filter(awaited__gt=0).update(awaited=F("awaited") + wrong_by)
    RunOutput.objects.filter(awaited=0).update(awaited=3)
    assert rebuild_balances(clock=clock("2027-03-01 18:00")) == Rebuilt(balances=0, shelves=0, outputs=6)
    assert _outputs() == before


def test_rebuild_frees_what_is_promised_of_spools_that_are_not_awaited(busy: TinyPlant, order: Ordering) -> None:
    order("D", {busy.black_1kg: 40}, at="2027-03-01 15:00")
    assert RunOutput.objects.get(sku=busy.black_1kg).allocated == 37
    lot = Lot.objects.get(run__isnull=False, item=busy.black_1kg.item)
    _line(lot, 30, "wound", "count_difference", at="2027-03-01 17:00")
    rebuild_balances(clock=clock("2027-03-01 18:00"))
    output = RunOutput.objects.get(sku=busy.black_1kg)
    assert (output.awaited, output.allocated) == (8, 8)


def test_rebuild_command_says_what_was_wrong(busy: TinyPlant) -> None:
    _wrong_balance()
    out = StringIO()
    call_command("rebuild_balances", stdout=out)
    assert out.getvalue() == "1 balances, 0 shelf counts and 0 counts of awaited spools were wrong.\n"
