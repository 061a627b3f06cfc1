"""What the tests of the pages share: a plant with a make list that they know line by line, and people."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group, User
from django.test import Client
from django.utils import timezone, translation
from django.utils.formats import reset_format_cache
from django.utils.translation import trans_real
from pytest_django import Settings

from inventory.models import Run
from inventory.rules.clock import Clock
from inventory.services.runs import release_run
from stockplan.access.roles import set_up_roles
from tests.pages.shown_plant import ShownPlant, build_shown_plant

PASSWORD = "spools-and-lines-7"
CATALOGUE = Path(__file__).parent / "german.po"
# The brackets of the pseudo-language.
OPEN, CLOSE = "⟦", "⟧"
LETTERS = re.compile(r"[^\W\d_]{2}")
PARTS = re.compile(r"(%\(\w+\)[-+ #.\d]*[a-z]|\{[^{}]*\})")
BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def shown(db: None) -> ShownPlant:
    return build_shown_plant()


@pytest.fixture
def person(db: None) -> Callable[[str], User]:
    """Make a person of a role who may log in to the site."""

    def make(role: str) -> User:
        set_up_roles()
        user = User.objects.create(username=f"{role}-person", password=make_password(PASSWORD), is_staff=True)
        user.groups.add(Group.objects.get(name=role))
        return user

    return make


def log_in_again(client: Client, role: str) -> None:
    """Log a person in who has been away: at a desk a log-in ends after half an hour without a request."""
    client.force_login(User.objects.get(username=f"{role}-person"), backend=BACKEND)


@pytest.fixture
def logged_in(person: Callable[[str], User]) -> Callable[[str], Client]:
    """Make a client that is logged in as a person of a role."""

    def make(role: str) -> Client:
        client = Client()
        client.force_login(person(role), backend=BACKEND)
        return client

    return make


@pytest.fixture
def german(settings: Settings, tmp_path: Path) -> Iterator[None]:
    """A service that offers German as well, from the catalogue beside this test."""
    folder = tmp_path / "de" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    with CATALOGUE.open("rb") as written, (folder / "django.mo").open("wb") as compiled:
        write_mo(compiled, read_po(written, locale="de"))
    settings.LANGUAGES, settings.LOCALE_PATHS = [("en", "en"), ("de", "de")], [tmp_path]
    _forget_catalogues()
    yield
    translation.activate("en")
    _forget_catalogues()


@pytest.fixture
def pseudo(monkeypatch: pytest.MonkeyPatch) -> None:
    """A catalogue that holds everything, in brackets; values stand outside of them, so that each shows its own."""

    def bracketed(text: str) -> str:
        parts = enumerate(PARTS.split(text))
        return "".join(f"{OPEN}{part}{CLOSE}" if at % 2 == 0 and LETTERS.search(part) else part for at, part in parts)

    monkeypatch.setattr(translation._trans, "gettext", bracketed, raising=False)
    monkeypatch.setattr(translation._trans, "pgettext", lambda _context, text: bracketed(text), raising=False)
    monkeypatch.setattr(
        translation._trans, "ngettext", lambda one, many, n: bracketed(one if n == 1 else many), raising=False
    )


def _forget_catalogues() -> None:
    trans_real._translations = {}
    reset_format_cache()


@pytest.fixture
def second_run(shown: ShownPlant) -> Run:
    """Another released run behind the one of the plant; places 3 and 4 are ranks 2 and 1 of the list."""
    start = shown.run.planned_end + timedelta(hours=1)
    return release_run(
        filament_code=shown.tiny.black.code,
        line_code="L1",
        spools={"PLA-BLACK-1000": 4},
        planned_start=start,
        planned_end=start + timedelta(hours=1),
        clock=Clock.at(timezone.now()),
    )


def of_run(typed: dict[str, str]) -> dict[str, str]:
    """What is sent with a form of the page: the run that it shows as well."""
    return {"run": Run.objects.get().code, **typed}


@pytest.fixture
def dry(shown: ShownPlant) -> ShownPlant:
    """The released run of six natural spools, its resin in the hopper since yesterday."""
    Run.objects.update(drying_from=timezone.now() - timedelta(hours=20))
    return shown


@pytest.fixture
def floor(dry: ShownPlant, logged_in: Callable[[str], Client]) -> Client:
    return logged_in("floor")


@pytest.fixture
def running(floor: Client) -> Client:
    """The floor, with the run under way."""
    assert floor.post("/admin/line/L1/start/", of_run({"cautions": "read"})).status_code == 302
    return floor


@pytest.fixture
def sales(shown: ShownPlant, logged_in: Callable[[str], Client]) -> Client:
    return logged_in("sales")
