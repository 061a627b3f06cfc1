"""A folder with the small plant, and the small plant loaded."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client

from inventory.plant_files.load import LoadReport, load_plant
from tests.inventory.plant_dir import write_small_plant

MONDAY = datetime(2027, 3, 1, 7, tzinfo=UTC)


@pytest.fixture
def admin_client(db: None, settings: Any, tmp_path: Path) -> Client:
    """A client of an owner; without a password, whose hash takes longer than the test."""
    # A fresh clone has no collected static files, of which the server warns.
    settings.STATIC_ROOT = tmp_path
    client = Client()
    client.force_login(
        User.objects.create(username="owner", is_staff=True, is_superuser=True),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    return client


@pytest.fixture
def plant_dir(tmp_path: Path) -> Path:
    return write_small_plant(tmp_path / "plant")


@pytest.fixture
def loaded(plant_dir: Path, db: None) -> LoadReport:
    return load_plant(plant_dir, as_of=MONDAY)
