"""Every page in a language that puts each translated text into brackets: what stands outside is out of reach.

The pseudo-language translates whatever is asked for; that every text can be found by translators as well, the other
tests here say. Data of the plant, signs of units and codes are the same in all languages.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from html.parser import HTMLParser

import pytest
from django.apps import apps
from django.contrib.admin import site
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from stockplan.planner.models import MakeList
from stockplan.planner.services.make_lists import compute_make_list
from tests.inventory.builders import build_tiny_plant
from tests.pages.conftest import CLOSE, OPEN
from tests.pages.shown_plant import WORKING_PATHS, ShownPlant
from tests.pages.test_languages import ALIKE, READ_ALOUD

LogIn = Callable[[str], Client]
WORD = re.compile(r"[^\W\d_]{2,}")
TRANSLATED = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
# Fields that hold what the plant calls its things, and what somebody typed.
NAMES = {"code", "name", "reference", "note", "username", "time_zone", "currency", "document", "ship_to"}
SAME_EVERYWHERE = ALIKE | {"Stockplan", "lb", "oz", "CSV", "PDF", "SKU", "SKUs", "Item", "BOX"}


class ReadTexts(HTMLParser):
    """What somebody sees or has read aloud, and the words of the charts, in their order."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._tag = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._tag = tag
        given = dict(attrs)
        if tag == "script" and given.get("type") == "application/json":
            self._tag = "chart"
        self.found += [value for name, value in attrs if name in READ_ALOUD and value]

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002
        self._tag = ""

    def handle_data(self, data: str) -> None:
        if self._tag == "chart":
            self.found += list(strings_of(json.loads(data)))
        elif self._tag not in {"script", "style", "code"}:
            self.found.append(data)


def strings_of(value: object) -> Iterator[str]:
    """The texts of a chart: its values, not the names of its fields."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for part in value.values() if isinstance(value, dict) else value:
            yield from strings_of(part)


def words_out_of_reach(html: str, *, data: set[str]) -> list[str]:
    """The words of a page outside of all brackets that are no data."""
    parser = ReadTexts()
    parser.feed(html)
    text, before = "\n".join(parser.found), ""
    while text != before:
        text, before = TRANSLATED.sub(" ", text), text
    for name in sorted(data, key=len, reverse=True):
        text = text.replace(name, " ")
    return sorted(set(WORD.findall(text)) - SAME_EVERYWHERE)


def data_of_the_plant() -> set[str]:
    """Codes, names and typed texts in the database."""
    ours = [model for model in apps.get_models() if model._meta.app_label in {"inventory", "planner", "auth"}]
    fields = [
        (model, field.name)
        for model in ours
        for field in model._meta.concrete_fields
        if field.name in NAMES and isinstance(field, models.CharField) and not field.choices
    ]
    return {text for model, name in fields for text in model.objects.values_list(name, flat=True) if text}


@pytest.fixture
def listed(shown: ShownPlant) -> ShownPlant:
    """The shown plant with a list that was computed, so that the core's own sentences are on the pages."""
    now = timezone.now()
    MakeList.objects.update(as_of=now.replace(year=now.year - 1), created_at=now.replace(year=now.year - 1))
    compute_make_list(as_of=now, now=now, days=5)
    return shown


SEARCHED = {"black", "rubi"}
# Beside data on the pages of records: words that other packages do not translate, units and classes as they are kept.
OF_RECORDS = {
    "Search",
    "True",
    "False",
    "Axes",
    "TOTP",
    "devices",
    "spool",
    "pieces",
    "test",
    "EFE",
}
MORE_PATHS = ["/admin/stock/?q=black", "/admin/stock/?q=rubi+1kg", "/admin/make-list/left-out/?cause=enough"]


def test_no_page_shows_a_text_that_no_translator_can_reach(listed: ShownPlant, logged_in: LogIn, pseudo: None) -> None:
    client, data = logged_in("owner"), data_of_the_plant() | SEARCHED
    paths = [listed.fill_in(path) for path in (*WORKING_PATHS, *MORE_PATHS)]
    found = {path: words_out_of_reach(client.get(path).text, data=data) for path in paths}
    assert {path: words for path, words in found.items() if words} == {}


def test_no_page_of_a_plant_without_anything_shows_a_text_that_no_translator_can_reach(
    db: None, logged_in: LogIn, pseudo: None
) -> None:
    build_tiny_plant()
    client, data = logged_in("owner"), data_of_the_plant()
    paths = [path for path in WORKING_PATHS if "{" not in path and "CART" not in path and "lot=" not in path]
    found = {path: words_out_of_reach(client.get(path, follow=True).text, data=data) for path in paths}
    assert {path: words for path, words in found.items() if words} == {}


def test_lists_and_forms_of_records_hold_no_text_that_no_translator_can_reach(
    shown: ShownPlant, admin_client: Client, pseudo: None
) -> None:
    options = [model._meta for model in site._registry if model._meta.app_label in {"inventory", "planner", "access"}]
    lists = [reverse(f"admin:{one.app_label}_{one.model_name}_changelist") for one in options]
    # The parameters are one record: their list leads to its form.
    pages = {path: admin_client.get(path, follow=True) for path in (*lists, *(f"{path}add/" for path in lists))}
    data = data_of_the_plant() | OF_RECORDS
    found = {path: words_out_of_reach(page.text, data=data) for path, page in pages.items() if page.status_code == 200}
    assert len(found) > len(lists)
    assert {path: words for path, words in found.items() if words} == {}


def test_what_if_shows_no_text_that_no_translator_can_reach(listed: ShownPlant, logged_in: LogIn, pseudo: None) -> None:
    page = logged_in("planner").post("/admin/make-list/what-if/forbid/", {"forbid-filament": "PLA-BLACK-1.75"})
    assert words_out_of_reach(page.text, data=data_of_the_plant()) == []


@pytest.mark.parametrize(
    ("html", "found"),
    [
        ("<p>Nothing</p>", ["Nothing"]),
        (f"<p>{OPEN}So <b>much</b>{CLOSE} kg of X-1</p>", ["of"]),
        (f'<a aria-label="Print">{OPEN}in {OPEN}it{CLOSE}{CLOSE}</a>', ["Print"]),
        ('<script type="application/json">{"name": "shelf"}</script><script>var word;</script>', ["shelf"]),
    ],
)
def test_word_outside_of_brackets_is_found(html: str, found: list[str]) -> None:
    assert words_out_of_reach(html, data={"X-1"}) == found
