"""A browser for the tests of the pages."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

from tests.pages.shown_plant import ShownPlant

# Playwright keeps an event loop in this thread, and Django then refuses its synchronous database access.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

PHONE = {"width": 360, "height": 780}
TABLET = {"width": 1024, "height": 768}

Visit = Callable[..., Page]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium; its sandbox needs rights that a build machine does not give."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.fail("There is no Chromium: apt-get install -y chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path,
            args=["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield browser
        browser.close()


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    context = chromium.new_context(viewport=TABLET, locale="en-GB")  # type: ignore[arg-type]
    yield context
    context.close()


@pytest.fixture
def visit(
    context: BrowserContext, live_server: LiveServer, shown: ShownPlant, logged_in: Callable[[str], Client]
) -> Visit:
    """`visit("/admin/stock/", role="sales")`: the page as a person of that role sees it."""
    page = context.new_page()

    def go(path: str, *, role: str = "planner", viewport: dict[str, int] = TABLET, dark: bool = False) -> Page:
        if not context.cookies():
            session = logged_in(role).cookies["sessionid"].value
            context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
        page.set_viewport_size(viewport)  # type: ignore[arg-type]
        page.emulate_media(color_scheme="dark" if dark else "light")
        page.goto(f"{live_server.url}{path}")
        keep_picture(page, path, viewport=viewport, dark=dark)
        return page

    return go


def keep_picture(page: Page, path: str, *, viewport: dict[str, int], dark: bool) -> None:
    """Keep a picture for the eye where PAGE_PICTURES names a folder; no test compares pictures."""
    folder = os.environ.get("PAGE_PICTURES")
    if folder:
        name = path.strip("/").replace("/", "-").replace("?", "-").replace("=", "-").replace(" ", "-")
        light = "dark" if dark else "light"
        page.screenshot(path=Path(folder) / f"{name}-{viewport['width']}-{light}.png", full_page=True)
