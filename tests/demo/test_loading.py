"""The demo goes into an empty database by the command that a user has."""

from __future__ import annotations

from pathlib import Path

import pytest

from inventory.models import Filament, Order, OrderLine, ShelfStock, Sku
from inventory.plant_files.dump import dump_plant
from inventory.plant_files.load import load_plant
from inventory.plant_files.schema_plant import PARAMETER_KEYS
from inventory.selectors.check import check_books
from stockplan.demo.generate import DemoPlant, write_demo_plant


@pytest.mark.django_db
def test_demo_plant_loads_into_sound_books_and_comes_out_byte_for_byte(tmp_path: Path, plant: DemoPlant) -> None:
    write_demo_plant(tmp_path / "demo")
    report = load_plant(tmp_path / "demo", as_of=plant.timeline.as_of)
    rows = {name: len(table) for name, table in plant.tables.items()}
    # The file names every parameter, those too that the demo leaves at their default.
    assert report.rows == rows | {"parameters.csv": len(PARAMETER_KEYS)}
    assert (Filament.objects.count(), Sku.objects.count()) == (120, len(plant.tables["skus.csv"]))
    assert OrderLine.objects.count() == len(plant.tables["orders.csv"])
    assert Order.objects.filter(state=Order.State.OPEN, due_day__lte=plant.timeline.last_day).exists()
    assert ShelfStock.objects.filter(allocated__gt=0).exists()
    assert check_books() == []
    dump_plant(tmp_path / "dumped")
    assert [path.name for path in _files(tmp_path / "dumped")] == [path.name for path in _files(tmp_path / "demo")]
    changed = [path.name for path in _files(tmp_path / "demo") if not _is_same(path, tmp_path / "dumped" / path.name)]
    assert changed == []


def _files(directory: Path) -> list[Path]:
    return sorted(directory.iterdir())


def _is_same(path: Path, other: Path) -> bool:
    return path.read_bytes() == other.read_bytes()
