"""Each constraint of the ledger and of runs twice: a clean error through the service, IntegrityError past it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from inventory.errors import InvalidInputError
from inventory.models import (
    Balance,
    Lot,
    Movement,
    MovementLine,
    OvenLoad,
    Place,
    Run,
    RunOutput,
    ShelfStock,
)
from inventory.services.holds import hold_lot
from inventory.services.ledger import (
    LineDraft,
    NotEnoughStockError,
    NotReversibleError,
    place,
    post_movement,
    reverse_movement,
)
from inventory.services.ovens import OvenBusyError, OvenLimitError, load_oven
from inventory.services.places import ensure_places
from inventory.services.receipts import LotInUseError, receive_material
from inventory.services.runs import (
    LineBusyError,
    RunStateError,
    cancel_run,
    finish_run,
    reschedule_run,
    resize_run,
    start_run,
)
from inventory.services.scrap import scrap_spools
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import KG, finished, loaded, released, started
from tests.inventory.books.reading import shelf
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf

pytestmark = [pytest.mark.django_db, pytest.mark.database]
MONDAY = clock("2027-03-01 10:00")
AT = local("2027-03-01 10:00")


@pytest.mark.clean_error_of("balance_physical_not_negative")
def test_negative_balance_is_refused_by_the_service(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with pytest.raises(NotEnoughStockError):
        scrap_spools(sku_code=KG, quantity=6, clock=MONDAY, reason="torn")


@pytest.mark.refused_by_database("balance_physical_not_negative")
def test_negative_balance_is_refused_by_the_database(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with refused("balance_physical_not_negative"):
        Balance.objects.filter(place__kind="shelf").update(quantity=-1)


@pytest.mark.clean_error_of("balance_one_per_place_and_lot")
def test_second_balance_of_a_lot_at_a_place_is_never_made_by_the_service(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    scrap_spools(sku_code=KG, quantity=1, clock=MONDAY, reason="torn")
    scrap_spools(sku_code=KG, quantity=1, clock=MONDAY, reason="torn")
    assert Balance.objects.get(place__kind="scrap").quantity == 2


@pytest.mark.refused_by_database("balance_one_per_place_and_lot")
def test_second_balance_of_a_lot_at_a_place_is_refused_by_the_database(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    row = Balance.objects.get(place__kind="shelf")
    with refused("balance_one_per_place_and_lot"):
        Balance.objects.create(place=row.place, lot=row.lot, item=row.item, is_physical=True, quantity=0)


@pytest.mark.clean_error_of("shelfstock_allocated_within_shelf")
def test_shelf_below_its_promises_is_never_left_by_the_service(plant: TinyPlant, order: Callable[..., int]) -> None:
    put_on_shelf(plant.black_1kg, 5)
    order("A", {plant.black_1kg: 5})
    scrap_spools(sku_code=KG, quantity=2, clock=MONDAY, reason="torn")
    assert shelf(plant.black_1kg) == (3, 3)


@pytest.mark.refused_by_database("shelfstock_allocated_within_shelf")
def test_shelf_below_its_promises_is_refused_by_the_database(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with refused("shelfstock_allocated_within_shelf"):
        ShelfStock.objects.update(allocated=6)


@pytest.mark.clean_error_of("movementline_quantity_positive")
def test_quantity_of_nothing_is_refused_by_the_service(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    line = LineDraft(lot.item_id, lot.pk, Decimal(0), place("shelf"), place("scrap"))
    with pytest.raises(InvalidInputError, match="above 0"):
        post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=MONDAY)


@pytest.mark.refused_by_database("movementline_quantity_positive")
def test_quantity_of_nothing_is_refused_by_the_database(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with refused("movementline_quantity_positive"):
        copy_of(MovementLine.objects.get(), quantity=0)


@pytest.mark.clean_error_of("movementline_two_places")
def test_movement_to_its_own_place_is_refused_by_the_service(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5)
    line = LineDraft(lot.item_id, lot.pk, Decimal(1), place("shelf"), place("shelf"))
    with pytest.raises(InvalidInputError, match="cannot go from shelf to shelf"):
        post_movement(kind=Movement.Kind.SCRAP, lines=[line], clock=MONDAY)


@pytest.mark.refused_by_database("movementline_two_places")
def test_movement_to_its_own_place_is_refused_by_the_database(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with refused("movementline_two_places"):
        copy_of(MovementLine.objects.get(), from_place=place("shelf"))


def test_reversal_of_a_reversed_movement_is_refused_by_the_service(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    opening = Movement.objects.get()
    reverse_movement(movement_id=opening.pk, clock=MONDAY, reason="typed twice")
    with pytest.raises(NotReversibleError):
        reverse_movement(movement_id=opening.pk, clock=MONDAY, reason="typed twice")


def test_second_reversal_is_refused_by_the_database(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    opening = Movement.objects.get()
    reverse_movement(movement_id=opening.pk, clock=MONDAY, reason="typed twice")
    with pytest.raises(IntegrityError, match=r"inventory_movement[._]reverses_id"), transaction.atomic():
        Movement.objects.create(kind="reversal", reverses=opening, occurred_at=AT, known_at=AT)


@pytest.mark.clean_error_of("movement_reversal_names_what_it_reverses")
def test_reversal_always_names_what_it_reverses(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    opening = Movement.objects.get()
    reversal = reverse_movement(movement_id=opening.pk, clock=MONDAY, reason="typed twice")
    assert (reversal.kind, reversal.reverses) == ("reversal", opening)


@pytest.mark.refused_by_database("movement_reversal_names_what_it_reverses")
def test_reversal_of_nothing_is_refused_by_the_database(plant: TinyPlant) -> None:
    with refused("movement_reversal_names_what_it_reverses"):
        Movement.objects.create(kind="reversal", occurred_at=AT, known_at=AT)


def test_places_are_written_once_by_the_service(plant: TinyPlant) -> None:
    ensure_places()
    assert Place.objects.count() == len(Place.Kind)
    assert all(row.is_physical == (Place.Kind(row.kind) not in Place.VIRTUAL) for row in Place.objects.all())


@pytest.mark.clean_error_of("place_physical_by_kind", "place_oven_only_for_ovens")
@pytest.mark.parametrize("kind", ["customer", "oven", "attic"])
def test_wrong_place_is_refused_by_the_service(plant: TinyPlant, kind: str) -> None:
    # The customer is no physical place; of ovens there are several, each a place of its own; the attic is none.
    with pytest.raises(InvalidInputError, match=f"'{kind}' must be one of"):
        scrap_spools(sku_code=KG, quantity=1, clock=MONDAY, reason="torn", place_kind=kind)


@pytest.mark.clean_error_of("place_one_per_kind_but_ovens")
def test_second_place_of_a_kind_is_never_made_by_the_service(plant: TinyPlant) -> None:
    assert place("shelf") == place("shelf")
    assert Place.objects.filter(kind="shelf").count() == 1


@pytest.mark.refused_by_database("place_one_per_kind_but_ovens", "place_physical_by_kind", "place_oven_only_for_ovens")
@pytest.mark.parametrize(
    ("fields", "constraint"),
    [
        ({"code": "S2", "kind": "shelf", "is_physical": True}, "place_one_per_kind_but_ovens"),
        ({"code": "X", "kind": "customer", "is_physical": True}, "place_physical_by_kind"),
        ({"code": "X", "kind": "shelf", "is_physical": False}, "place_physical_by_kind"),
        ({"code": "X", "kind": "oven", "is_physical": True}, "place_oven_only_for_ovens"),
    ],
)
def test_wrong_place_is_refused_by_the_database(plant: TinyPlant, fields: dict[str, object], constraint: str) -> None:
    with refused(constraint):
        Place.objects.create(**fields)


def test_oven_as_a_place_of_another_kind_is_refused_by_the_database(plant: TinyPlant) -> None:
    with refused("place_oven_only_for_ovens"):
        Place.objects.filter(kind="customer").update(oven=plant.oven)


def test_lot_code_of_another_item_is_refused_by_the_service(plant: TinyPlant) -> None:
    receive_material(item_code="RESIN-PLA", quantity=Decimal(1), lot_code="R1", clock=MONDAY)
    with pytest.raises(LotInUseError):
        receive_material(item_code="RESIN-PETG", quantity=Decimal(1), lot_code="R1", clock=MONDAY)


def test_second_lot_of_a_code_is_refused_by_the_database(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    with pytest.raises(IntegrityError, match=r"inventory_lot[._]code"), transaction.atomic():
        Lot.objects.create(code="S1", item=plant.black_250g.item, created_at=AT)


@pytest.mark.clean_error_of("run_one_started_per_line")
def test_second_started_run_of_a_line_is_refused_by_the_service(plant: TinyPlant) -> None:
    started()
    second = released()
    with pytest.raises(LineBusyError):
        start_run(run_code=second.code, clock=MONDAY)


@pytest.mark.refused_by_database("run_one_started_per_line")
def test_second_started_run_of_a_line_is_refused_by_the_database(plant: TinyPlant) -> None:
    started()
    second = released()
    with refused("run_one_started_per_line"):
        Run.objects.filter(pk=second.pk).update(state="started", started_at=AT)


@pytest.mark.clean_error_of("run_ends_after_start")
def test_run_that_ends_before_it_starts_is_refused_by_the_service(plant: TinyPlant) -> None:
    run = released()
    with pytest.raises(InvalidInputError, match="is before planned_start"):
        reschedule_run(run_code=run.code, planned_start=AT, planned_end=AT - timedelta(minutes=1), clock=MONDAY)


@pytest.mark.refused_by_database("run_ends_after_start")
def test_run_that_ends_before_it_starts_is_refused_by_the_database(plant: TinyPlant) -> None:
    released()
    with refused("run_ends_after_start"):
        Run.objects.update(planned_end=local("2027-03-01 07:00"))


@pytest.mark.clean_error_of("run_state_has_its_times")
def test_run_that_finishes_before_its_start_is_refused_by_the_service(stores: TinyPlant) -> None:
    run = started()
    report = {"good": {KG: 1}, "scrap": {}, "real_minutes": Decimal(1), "purge_kg": Decimal(0)}
    with pytest.raises(InvalidInputError, match=r"is before run R\d+ was started at"):
        finish_run(run_code=run.code, clock=clock("2027-03-01 07:59"), **report)


@pytest.mark.clean_error_of("run_state_has_its_times")
def test_run_that_never_started_cannot_finish_and_one_that_did_cannot_be_cancelled(stores: TinyPlant) -> None:
    first, second = started(), released()
    with pytest.raises(RunStateError, match="only a started run can be finished"):
        finish_run(run_code=second.code, good={}, scrap={}, real_minutes=Decimal(1), purge_kg=Decimal(0), clock=MONDAY)
    with pytest.raises(RunStateError, match="only a released run can be cancelled"):
        cancel_run(run_code=first.code, clock=MONDAY)


@pytest.mark.refused_by_database("run_state_has_its_times")
@pytest.mark.parametrize(
    "fields",
    [
        {"state": "started", "started_at": None},
        {"state": "finished", "started_at": AT, "finished_at": AT - timedelta(minutes=1)},
        {"state": "cancelled", "cancelled_at": None},
        {"state": "released", "started_at": AT},
    ],
)
def test_run_without_the_times_of_its_state_is_refused_by_the_database(
    plant: TinyPlant, fields: dict[str, object]
) -> None:
    released()
    with refused("run_state_has_its_times"):
        Run.objects.update(**fields)


@pytest.mark.clean_error_of("runoutput_allocated_within_awaited")
def test_run_smaller_than_its_promises_gives_spools_back_through_the_service(
    plant: TinyPlant, order: Callable[..., int]
) -> None:
    run = released()
    order("A", {plant.black_1kg: 40})
    resize_run(run_code=run.code, spools={KG: 10}, clock=MONDAY)
    output = RunOutput.objects.get(sku=plant.black_1kg)
    assert (output.awaited, output.allocated) == (10, 10)


@pytest.mark.refused_by_database("runoutput_allocated_within_awaited")
def test_output_below_its_promises_is_refused_by_the_database(plant: TinyPlant) -> None:
    released()
    with refused("runoutput_allocated_within_awaited"):
        RunOutput.objects.filter(sku=plant.black_1kg).update(allocated=41)


@pytest.mark.clean_error_of("runoutput_one_per_run_and_sku")
def test_second_output_of_a_sku_is_never_made_by_the_service(stores: TinyPlant) -> None:
    run = started()
    resize_run(run_code=run.code, spools={KG: 12}, clock=MONDAY)
    finish_run(
        run_code=run.code, good={KG: 12}, scrap={KG: 1}, real_minutes=Decimal(1), purge_kg=Decimal(0), clock=MONDAY
    )
    assert RunOutput.objects.filter(run=run, sku=stores.black_1kg).count() == 1


@pytest.mark.refused_by_database("runoutput_one_per_run_and_sku")
def test_second_output_of_a_sku_is_refused_by_the_database(plant: TinyPlant) -> None:
    released()
    with refused("runoutput_one_per_run_and_sku"):
        copy_of(RunOutput.objects.get(sku=plant.black_1kg))


@pytest.mark.clean_error_of("ovenload_one_at_a_time")
def test_second_load_of_a_full_oven_is_refused_by_the_service(stores: TinyPlant) -> None:
    loaded(spools=20)
    with pytest.raises(OvenBusyError):
        load_oven(oven_code="O1", spools=[(None, KG, 18)], clock=clock("2027-03-01 18:00"))


@pytest.mark.refused_by_database("ovenload_one_at_a_time")
def test_second_load_of_a_full_oven_is_refused_by_the_database(stores: TinyPlant) -> None:
    loaded(spools=20)
    with refused("ovenload_one_at_a_time"):
        copy_of(OvenLoad.objects.get(), code="O9")


@pytest.mark.clean_error_of("ovenload_ready_after_loading")
def test_load_that_is_ready_before_it_begins_is_refused_by_the_service(stores: TinyPlant) -> None:
    finished()
    with pytest.raises(OvenLimitError, match="-1 hours"):
        load_oven(oven_code="O1", spools=[(None, KG, 1)], hours=Decimal(-1), clock=clock("2027-03-01 18:00"))


@pytest.mark.refused_by_database("ovenload_ready_after_loading")
def test_load_that_is_ready_before_it_begins_is_refused_by_the_database(stores: TinyPlant) -> None:
    loaded()
    with refused("ovenload_ready_after_loading"):
        OvenLoad.objects.update(ready_at=local("2027-03-01 16:00"))


def test_lot_that_history_holds_cannot_be_deleted(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    hold_lot(lot_code="S1", clock=MONDAY, reason="diameter")
    with pytest.raises(ProtectedError):
        lot.delete()
