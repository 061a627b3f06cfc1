"""What was posted never changes: the database itself refuses, whichever way the update comes."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction
from pytest_django import Settings

from inventory.models import Movement, MovementLine, OrderLineChange
from inventory.rules.order_draft import OrderDraft
from inventory.services.orders import place_order
from tests.inventory.builders import TinyPlant, clock, put_on_shelf

pytestmark = pytest.mark.django_db


def _refused(statement: str) -> None:
    with pytest.raises(IntegrityError, match="never_changes"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


def test_movement_is_not_updated_by_a_queryset(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with pytest.raises(IntegrityError, match="never_changes"), transaction.atomic():
        Movement.objects.update(reason="prettier")


def test_movement_is_not_updated_by_save(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    with pytest.raises(IntegrityError, match="never_changes"), transaction.atomic():
        Movement.objects.get().save()


def test_movement_is_not_updated_by_raw_sql(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    _refused("UPDATE inventory_movement SET reason = 'prettier'")


def test_movement_line_is_not_updated_by_raw_sql(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    _refused("UPDATE inventory_movementline SET quantity = 6")


def test_movement_line_is_not_updated_by_a_bulk_upsert(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 5)
    line = MovementLine.objects.get()
    line.quantity += 1
    with pytest.raises(IntegrityError, match="never_changes"), transaction.atomic():
        MovementLine.objects.bulk_create(
            [line], update_conflicts=True, unique_fields=["id"], update_fields=["quantity"]
        )


def test_order_line_change_is_not_updated_by_raw_sql(plant: TinyPlant, settings: Settings) -> None:
    put_on_shelf(plant.black_1kg, 5)
    draft = OrderDraft(channel_code="WEB", reference="A", lines=[("PLA-BLACK-1000", 2)])
    place_order(body=draft, clock=clock("2027-03-01 10:00"))
    assert OrderLineChange.objects.get().delta == 2
    _refused("UPDATE inventory_orderlinechange SET delta = 3")
