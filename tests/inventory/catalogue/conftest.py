"""A folder with the small plant, and the small plant loaded."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from inventory.plant_files.load import LoadReport, load_plant
from tests.inventory.plant_dir import write_small_plant

MONDAY = datetime(2027, 3, 1, 7, tzinfo=UTC)


@pytest.fixture
def plant_dir(tmp_path: Path) -> Path:
    return write_small_plant(tmp_path / "plant")


@pytest.fixture
def loaded(plant_dir: Path, db: None) -> LoadReport:
    return load_plant(plant_dir, as_of=MONDAY)
