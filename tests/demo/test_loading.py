"""The demo goes into an empty database by the command that a user has."""

from __future__ import annotations

from pathlib import Path

import pytest

from inventory.models import Filament, Order, OrderLine, ShelfStock, Sku
from inventory.plant_files.load import load_plant
from inventory.selectors.check import check_books
from stockplan.demo.generate import DemoPlant, write_demo_plant


@pytest.mark.database
@pytest.mark.django_db
def test_demo_plant_loads_into_sound_books(tmp_path: Path, plant: DemoPlant) -> None:
    write_demo_plant(tmp_path / "demo")
    report = load_plant(tmp_path / "demo", as_of=plant.timeline.as_of)
    assert report.rows == {name: len(table) for name, table in plant.tables.items()}
    assert (Filament.objects.count(), Sku.objects.count()) == (120, len(plant.tables["skus.csv"]))
    assert OrderLine.objects.count() == len(plant.tables["orders.csv"])
    assert Order.objects.filter(state=Order.State.OPEN, due_day__lte=plant.timeline.last_day).exists()
    assert ShelfStock.objects.filter(allocated__gt=0).exists()
    assert check_books() == []
