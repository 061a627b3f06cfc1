"""Texts, days and numbers in another language: nothing on the pages is beyond a translator's reach.

The German catalogue beside this test translates what the test reads; the service itself offers English.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from datetime import date, datetime
from html.parser import HTMLParser
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings as project
from django.test import Client
from django.utils import timezone, translation

from stockplan.planner.templatetags.planner_pages import avoirdupois, day, kilograms, moment, percent
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
OURS = Path(project.BASE_DIR) / "stockplan"
TEMPLATES = sorted(OURS.rglob("templates/**/*.html"))
PAGES = sorted((OURS / "planner" / "pages").glob("*.py"))
CORE = [
    path
    for package in (OURS, OURS.parent / "forecasting")
    for path in sorted(package.rglob("*.py"))
    if "forecasting.messages" in path.read_text(encoding="utf-8")
]
WORD = re.compile(r"[^\W\d_]{2}")
# Signs of units and measures are the same in every language, and so is the name of the service.
ALIKE = {"mm", "kg", "min", "GTIN", "stockplan", "API", "Cpk", "Ppk"}
TAGS = re.compile(
    r"\{%\s*blocktranslate.*?endblocktranslate\s*%\}"
    r"|\{%\s*block (?:bodyclass|title|extra\w+) %\}.*?\{%\s*endblock\s*%\}"
    r"|\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}",
    re.DOTALL,
)
READ_ALOUD = {"aria-label", "placeholder", "title", "alt", "data-busy", "data-name"}
# Arguments of our own calls that somebody reads.
SHOWN = {"title", "label", "help_text", "purpose"}


class PlainTexts(HTMLParser):
    """Words of a template that stand outside of any tag of translation."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._code = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._code += tag in {"script", "style", "code"}
        self.found += [value for name, value in attrs if name in READ_ALOUD and value and WORD.search(value)]

    def handle_endtag(self, tag: str) -> None:
        self._code -= tag in {"script", "style", "code"}

    def handle_data(self, data: str) -> None:
        words = set(re.findall(r"[^\W\d_]{2,}", data)) - ALIKE
        self.found += [data.strip()] * bool(words and not self._code)


def plain_texts_of(source: str) -> list[str]:
    parser = PlainTexts()
    parser.feed(TAGS.sub("\N{BULLET}", source))
    return parser.found


def plain_arguments_of(source: str) -> Iterator[str]:
    """Texts that a view hands on to be read without a call of translation around them."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            is_message = isinstance(node.func, ast.Attribute) and ast.unparse(node.func.value) == "messages"
            is_error = isinstance(node.func, ast.Name) and node.func.id == "TypedError"
            read = [*node.args[is_message:]] if is_message or is_error else []
            read += [word.value for word in node.keywords if word.arg in SHOWN]
            yield from (ast.unparse(one) for one in read if is_plain(one))


def computed_templates_of(source: str) -> Iterator[str]:
    """Templates of messages that no tool can read off the source."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in {"message", "counted"}:
            yield from (ast.unparse(one) for one in node.args if not isinstance(one, ast.Constant))


def is_plain(node: ast.expr) -> bool:
    texts = [node] if isinstance(node, ast.Constant) else node.values if isinstance(node, ast.JoinedStr) else []
    parts = (one.value for one in texts if isinstance(one, ast.Constant))
    return any(isinstance(part, str) and set(re.findall(r"[^\W\d_]{2,}", part)) - ALIKE for part in parts)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_template_holds_no_text_that_cannot_be_translated(path: Path) -> None:
    assert plain_texts_of(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_view_shows_no_text_that_cannot_be_translated(path: Path) -> None:
    assert list(plain_arguments_of(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("path", CORE, ids=lambda path: str(path.relative_to(OURS.parent)))
def test_templates_of_messages_are_literals_that_translators_are_given(path: Path) -> None:
    assert list(computed_templates_of(path.read_text(encoding="utf-8"))) == []


def test_template_that_is_computed_is_found() -> None:
    assert list(computed_templates_of('message(f"{n} of"); counted("a", x, n=1); message("a")')) == ["f'{n} of'", "x"]


@pytest.mark.parametrize("source", ["<p>Nothing</p>", '<a aria-label="Print">{{ x }}</a>', "{% if x %}of{% endif %}"])
def test_plain_text_of_a_template_is_found(source: str) -> None:
    assert len(plain_texts_of(source)) == 1


@pytest.mark.parametrize(
    "source", ['messages.error(r, f"No: {e}")', 'page(r, title="Run")', 'forms.CharField(label="A" "bc")']
)
def test_plain_text_of_a_view_is_found(source: str) -> None:
    assert len(list(plain_arguments_of(source))) == 1


def test_pages_speak_the_language_that_the_browser_asks_for(german: None, shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("sales").get("/admin/stock/", headers={"accept-language": "de"}).text
    assert '<html lang="de"' in text
    assert "<h1>Bestand</h1>" in text
    assert "Eine Bestellung von jetzt geht am <strong>" in text
    assert "Auf Lager" in text


def test_messages_and_forms_are_translated_as_well(german: None, shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("sales")
    answer = client.post("/admin/stock/put/", {"sku": "NONE"}, follow=True, headers={"accept-language": "de"})
    assert "Nichts wurde aufgenommen: es gibt keine Sorte NONE." in answer.text


def test_browser_that_asks_for_a_language_not_offered_reads_english(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("sales").get("/admin/stock/", headers={"accept-language": "de"}).text
    assert '<html lang="en"' in text
    # The frame of the site, which Django could translate, speaks the language of the pages.
    assert "Log out" in text


def test_days_and_numbers_follow_the_language(german: None) -> None:
    # Written as Unicode CLDR 46 has it for de: comma before decimals, Mo for Monday, Mär for March.
    friday = datetime(2027, 3, 5, 13, 40, tzinfo=ZoneInfo("UTC"))
    with translation.override("de"), timezone.override("UTC"):
        assert (day(date(2027, 3, 1)), moment(friday)) == ("Mo 1. Mär", "Fr 5. Mär 13:40")
        assert (percent(0.9715), kilograms(2500), avoirdupois(2500)) == ("97,2\N{NO-BREAK SPACE}%", "2,5 kg", "5,51 lb")
    with translation.override("en"), timezone.override("UTC"):
        assert (day(date(2027, 3, 1)), moment(friday)) == ("Mon 1 Mar", "Fri 5 Mar 13:40")


def test_net_mass_is_told_in_avoirdupois_as_well(shown: ShownPlant, logged_in: LogIn) -> None:
    # NIST Handbook 44, appendix C: a pound is 453.59237 g, so a kilogram is 2.20 lb and 250 g are 8.8 oz.
    assert (avoirdupois(1000), avoirdupois(250), avoirdupois(454)) == ("2.20 lb", "8.8 oz", "1.00 lb")
    assert (
        '1 kg</a> <span class="quiet small">2.20 lb'
        in logged_in("planner").get("/admin/filaments/PLA-BLACK-1.75/").text
    )
