"""What all tests share: which run on both databases, how many examples the property tests draw, and the browser."""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Iterator
from unittest.mock import patch

import pytest
from django.conf import settings as django_settings
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.contrib.auth.models import User
from django.test import Client, override_settings
from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser, BrowserContext, ViewportSize, sync_playwright

# Continuous integration draws the same examples every time and does not fail on a slow machine.
settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("developer", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or "developer")

# Without its mark or one of these, pytest-django lets no test near the database.
DATABASE_FIXTURES = {"db", "transactional_db", "live_server"}


def pytest_itemcollected(item: pytest.Item) -> None:
    """Mark what uses the database; the stages run it on SQLite and on PostgreSQL, and everything else once."""
    fixtures = getattr(item, "fixturenames", ())
    if item.get_closest_marker("django_db") or not DATABASE_FIXTURES.isdisjoint(fixtures):
        item.add_marker("database")


def pytest_collection_finish(session: pytest.Session) -> None:
    """Let the collector of cycles pass by what lives until the end, modules and tests, and come less often.

    It took a quarter of the time of migrations, pages and requests, to go through the same objects again and again.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """On SQLite the tests run on a file: in memory, connections of several threads fail instead of waiting.

    Nothing in it has to outlive a power cut, so no commit waits for the disk.
    """
    database = django_settings.DATABASES["default"]
    if database["ENGINE"] == "django.db.backends.sqlite3":
        database["OPTIONS"]["init_command"] += " PRAGMA synchronous=OFF;"
        database.setdefault("TEST", {})["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


@pytest.fixture(autouse=True, scope="session")
def collected_static(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A folder where a deployment has its collected files; the server of static files warns without one.

    For the whole session, as the live server lasts as long.
    """
    with override_settings(STATIC_ROOT=tmp_path_factory.mktemp("static")):
        yield


@pytest.fixture(autouse=True, scope="session")
def quick_hashes() -> Iterator[None]:
    """Argon2 with its least memory: what logs in, locks and is kept does not depend on how long a hash takes."""
    with patch.multiple(Argon2PasswordHasher, time_cost=1, memory_cost=8, parallelism=1):
        yield


@pytest.fixture
def admin_client(db: None) -> Client:
    """A client of an owner."""
    client = Client()
    client.force_login(
        User.objects.create(username="owner", is_staff=True, is_superuser=True),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    return client


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium, one for the whole session; its sandbox needs rights that a build machine does not give.

    Playwright keeps an event loop in this thread, and Django then refuses its synchronous database access unless told.
    """
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.fail("There is no Chromium: apt-get install -y chromium")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path,
            args=["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield browser
        browser.close()


@pytest.fixture
def context(chromium: Browser, request: pytest.FixtureRequest) -> Iterator[BrowserContext]:
    """A person's browser; its parameter, where a test gives one, is the pixels of the screen for each of the page."""
    scale = getattr(request, "param", 1)
    size: ViewportSize = {"width": 1024, "height": 768}
    context = chromium.new_context(viewport=size, device_scale_factor=scale, locale="en-GB")
    yield context
    context.close()
