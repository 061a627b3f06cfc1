"""Requests that another site makes a logged-in browser send (CSRF, CWE-352): every address that writes refuses them."""

from __future__ import annotations

import re

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import URLPattern, get_resolver

from inventory.models import Movement, Order
from stockplan.access.roles import set_up_roles
from stockplan.planner.pages import urls as pages
from tests.pages.shown_plant import ShownPlant

UUID = "5a1c52e0-8d7b-4f6a-9f50-6d1c1f0e2b11"
FILLED = {"int": "1", "uuid": UUID, "str": "X", "code": "X", "change": "rush"}


def _filled(pattern: URLPattern) -> str:
    """The address with something in each of its places."""
    route = str(pattern.pattern)
    if route.startswith("^"):
        return "/admin/filaments/X/pin/"
    return re.sub(r"<(\w+):\w+>", lambda place: FILLED[place[1]], route)


PAGES = sorted({_filled(pattern).removeprefix("/admin/") for pattern in pages.urlpatterns})
API = sorted(
    _filled(pattern)
    for resolver in get_resolver().url_patterns
    if str(resolver.pattern) == "api/v1/"
    for pattern in resolver.url_patterns
    if hasattr(getattr(pattern.callback, "view_class", None), "post")
)


@pytest.fixture
def browser(shown: ShownPlant) -> Client:
    """A browser in which somebody is logged in who may do everything."""
    set_up_roles()
    client = Client(enforce_csrf_checks=True)
    client.force_login(User.objects.create_superuser("all"), backend="django.contrib.auth.backends.ModelBackend")
    return client


def test_there_are_addresses_to_try() -> None:
    assert len(PAGES) > 40
    assert len(API) > 20


# One plant for all addresses: nothing may change it.
def test_page_takes_no_post_without_its_token(browser: Client, subtests: pytest.Subtests) -> None:
    before = Movement.objects.count(), Order.objects.count()
    for path in PAGES:
        with subtests.test(path):
            # 405: the page takes no POST at all.
            assert browser.post(f"/admin/{path}", {"reason": "forged"}).status_code in (403, 405)
            assert (Movement.objects.count(), Order.objects.count()) == before


def test_api_takes_no_post_of_a_session_without_its_token(browser: Client, subtests: pytest.Subtests) -> None:
    for path in API:
        with subtests.test(path):
            answer = browser.post(f"/api/v1/{path}", "{}", content_type="application/json")
            assert (answer.status_code, answer.json()["code"]) == (403, "permission_denied")


@pytest.mark.parametrize("path", ["inventory/sku/add/", "inventory/colour/import/", "inventory/colour/process_import/"])
def test_records_take_no_post_without_its_token(browser: Client, path: str) -> None:
    assert browser.post(f"/admin/{path}", {}).status_code == 403


def test_reading_a_page_writes_nothing(browser: Client, subtests: pytest.Subtests) -> None:
    """A link may be followed by whoever draws it, so a GET must not move anything."""
    before = Movement.objects.count(), Order.objects.count()
    for path in PAGES:
        with subtests.test(path):
            assert browser.get(f"/admin/{path}").status_code in (200, 302, 404, 405, 422)
            assert (Movement.objects.count(), Order.objects.count()) == before
