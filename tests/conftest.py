"""What all tests share: how many examples the property tests draw, and no test that waits for the network."""

from __future__ import annotations

import os

import pytest
from django.conf import settings as django_settings
from hypothesis import HealthCheck, settings

# Continuous integration draws the same examples every time and does not fail on a slow machine.
settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("developer", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or "developer")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """On SQLite the tests run on a file: in memory, connections of several threads fail instead of waiting."""
    database = django_settings.DATABASES["default"]
    if database["ENGINE"] == "django.db.backends.sqlite3":
        database.setdefault("TEST", {})["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")
