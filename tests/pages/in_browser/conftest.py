"""Pages in the browser as a person of a role sees them."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client
from playwright.sync_api import BrowserContext, Page
from pytest_django.live_server_helper import LiveServer

from tests.pages.shown_plant import ShownPlant

PHONE = {"width": 360, "height": 780}
TABLET = {"width": 1024, "height": 768}

Visit = Callable[..., Page]


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
