"""Markup in every text that the books hold (CWE-79): every page that shows it shows it as text.

What the API would refuse is written past it, as an import from elsewhere might.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from html.parser import HTMLParser

import pytest
from django.apps import apps
from django.contrib import admin
from django.db import IntegrityError, models, transaction
from django.test import Client
from django.urls import reverse

from tests.pages.shown_plant import WORKING_PATHS, ShownPlant

# No slash and short, so that it fits into codes and addresses of codes alike.
MARKUP = "\"'><svg onload=x()>"
BREAKS_OUT = "onload"
LogIn = Callable[[str], Client]


def _texts() -> Iterator[tuple[type[models.Model], str, int]]:
    """Every field of free text of the books and the planner, with its length."""
    for label in ("inventory", "planner"):
        for model in apps.get_app_config(label).get_models():
            for field in model._meta.concrete_fields:
                if isinstance(field, models.CharField | models.TextField) and not field.choices:
                    yield model, field.name, field.max_length or 1000


def poison() -> int:
    """Put the markup into all texts that take it; return how many fields took it.

    Codes that address a page, and rows that never change, stay as they are.
    """
    took = 0
    for model, name, length in _texts():
        rows = model._default_manager.all()
        is_code = name in ("code", "hex", "time_zone", "body_digest", "digest") or length < len(MARKUP)
        if is_code or not rows.exists():
            continue
        try:
            with transaction.atomic():
                for row in rows:
                    # The number keeps unique what is unique.
                    text = MARKUP if length < len(MARKUP) + 4 else f"{MARKUP}{row.pk}"[:length]
                    model._default_manager.filter(pk=row.pk).update(**{name: text})
                    took += 1
        except IntegrityError:
            continue
    return took


class Attributes(HTMLParser):
    """Collects the elements whose attributes would run a script."""

    def __init__(self) -> None:
        super().__init__()
        self.running: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.running += [f"{tag} {name}" for name, value in attrs if name.startswith("on")]
        self.running += [f"{tag} {name}={value}" for name, value in attrs if (value or "").startswith("javascript:")]


def running_in(html: str) -> list[str]:
    reader = Attributes()
    reader.feed(html)
    return reader.running


@pytest.fixture
def poisoned(shown: ShownPlant) -> ShownPlant:
    assert poison() > 30
    return shown


def test_the_reader_finds_what_a_page_must_not_hold() -> None:
    assert running_in(f'<input value="{MARKUP}">') == ["svg onload"]
    assert running_in('<a href="javascript:x()">') == ["a href=javascript:x()"]


def test_markup_in_the_books_is_text_on_every_working_page(
    poisoned: ShownPlant, logged_in: LogIn, subtests: pytest.Subtests
) -> None:
    client = logged_in("owner")
    for path in WORKING_PATHS:
        if "purchases" not in path:
            with subtests.test(path):
                answer = client.get(poisoned.fill_in(path))
                assert answer.status_code == 200
                assert running_in(answer.content.decode()) == []


def test_markup_in_the_books_reaches_the_pages(poisoned: ShownPlant, logged_in: LogIn) -> None:
    """Else the test above would look at pages that show nothing of it."""
    client = logged_in("owner")
    shown = [path for path in WORKING_PATHS if BREAKS_OUT in client.get(poisoned.fill_in(path)).content.decode()]
    assert len(shown) >= 12


def test_markup_in_the_books_is_text_in_the_records(
    poisoned: ShownPlant, admin_client: Client, subtests: pytest.Subtests
) -> None:
    for model in admin.site._registry:
        name = f"admin:{model._meta.app_label}_{model._meta.model_name}"
        first = model._default_manager.first()
        paths = [reverse(f"{name}_changelist")] + ([reverse(f"{name}_change", args=[first.pk])] if first else [])
        for path in paths:
            with subtests.test(path):
                answer = admin_client.get(path)
                assert answer.status_code == 200
                assert running_in(answer.content.decode()) == []


@pytest.mark.parametrize("path", ["/admin/stock/?q={}", "/admin/trace/?q={}", "/admin/login/?next={}"])
def test_markup_in_an_address_is_text(poisoned: ShownPlant, logged_in: LogIn, path: str) -> None:
    where, query = path.split("?")
    answer = logged_in("owner").get(where, {query.split("=")[0]: MARKUP})
    assert running_in(answer.content.decode()) == []


def test_markup_that_is_typed_into_a_report_comes_back_as_text(poisoned: ShownPlant, logged_in: LogIn) -> None:
    typed = {"item": MARKUP, "place": MARKUP, "any_lot": MARKUP, "quantity": MARKUP, "reason": MARKUP}
    answer = logged_in("floor").post("/admin/store/scrap/write/", typed)
    assert answer.status_code == 422
    assert running_in(answer.content.decode()) == []


def test_answer_of_the_api_is_json_that_no_browser_takes_for_a_page(plant, live) -> None:
    answer = live.get("/api/v1/stock/", {"search": MARKUP})
    assert answer.headers["Content-Type"] == "application/json"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
