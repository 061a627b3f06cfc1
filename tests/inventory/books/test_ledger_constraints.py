"""Each constraint of the ledger twice: a clean error through the service, IntegrityError past it."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from inventory.errors import InvalidInputError
from inventory.models import Balance, Lot, Movement, MovementLine, Place, ShelfStock
from inventory.services.holds import hold_lot
from inventory.services.ledger import (
    LineDraft,
    NotEnoughStockError,
    NotReversibleError,
    place,
    post_movement,
    reverse_movement,
)
from inventory.services.places import ensure_places
from inventory.services.receipts import LotInUseError, receive_material
from inventory.services.scrap import scrap
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import KG
from tests.inventory.books.reading import shelf
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf

pytestmark = pytest.mark.django_db
MONDAY = clock("2027-03-01 10:00")
AT = local("2027-03-01 10:00")


@pytest.mark.clean_error_of("balance_physical_not_negative")
def test_negative_balance_is_refused_by_the_service(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with pytest.raises(NotEnoughStockError):
        scrap(item_code=KG, quantity=6, clock=MONDAY, reason="torn")


@pytest.mark.refused_by_database("balance_physical_not_negative")
def test_negative_balance_is_refused_by_the_database(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with refused("balance_physical_not_negative"):
        Balance.objects.filter(place__kind="shelf").update(quantity=-1)


@pytest.mark.clean_error_of("balance_one_per_place_and_lot")
def test_second_balance_of_a_lot_at_a_place_is_never_made_by_the_service(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    scrap(item_code=KG, quantity=1, clock=MONDAY, reason="torn")
    scrap(item_code=KG, quantity=1, clock=MONDAY, reason="torn")
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
    scrap(item_code=KG, quantity=2, clock=MONDAY, reason="torn")
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
        scrap(item_code=KG, quantity=1, clock=MONDAY, reason="torn", place_kind=kind)


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


def test_lot_that_history_holds_cannot_be_deleted(plant: TinyPlant) -> None:
    lot = put_on_shelf(plant.black_1kg, 5, lot_code="S1")
    hold_lot(lot_code="S1", clock=MONDAY, reason="diameter")
    with pytest.raises(ProtectedError):
        lot.delete()
