"""Money is shown in the plant's currency, which its administrators set."""

from __future__ import annotations

import csv
from collections.abc import Callable
from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.test import Client

from inventory.models import PlantParameters
from tests.pages.shown_plant import ShownPlant

ADDRESS = "/admin/inventory/plantparameters/1/change/"


@pytest.fixture
def owner(shown: ShownPlant, logged_in: Callable[[str], Client]) -> Client:
    """The owner of a plant in Switzerland."""
    PlantParameters.objects.update(currency="CHF")
    return logged_in("owner")


@pytest.mark.parametrize(
    ("path", "shown_as"),
    [
        ("/admin/owner/", [" CHF</a> <small>", "Shelf, value, CHF</th>", "at a shelf of 200 CHF.", "CHF today."]),
        ("/admin/owner/shelf/", ["Value, CHF</th>", " CHF</a>"]),
        ("/admin/owner/shelf-worth/", ["Its shelf earns, CHF</th>", "Money is CHF a year."]),
        ("/admin/replays/", ["Shelf, value, CHF</th>", "mean value of the shelf, CHF"]),
    ],
)
def test_page_says_the_currency_of_its_money(owner: Client, path: str, shown_as: list[str]) -> None:
    text = owner.get(path).text
    assert [words for words in shown_as if words not in text] == []


@pytest.mark.parametrize("name", ["shelf", "shelf-worth", "replays"])
def test_table_says_the_currency_of_its_money(owner: Client, name: str) -> None:
    rows = list(csv.DictReader(StringIO(owner.get(f"/admin/tables/{name}.csv").text), strict=True))
    assert {row["currency"] for row in rows} == {"CHF"}


@pytest.mark.parametrize(("typed", "status", "kept"), [("USD", 302, "USD"), ("usd", 200, "CHF"), ("", 200, "CHF")])
def test_currency_is_set_in_the_records_as_a_code(
    owner: Client, client: Client, typed: str, status: int, kept: str
) -> None:
    client.force_login(User.objects.create_superuser("root-person"))
    form = client.get(ADDRESS).context["adminform"].form
    fields = {name: "" if value is None else value for name, value in form.initial.items()}
    assert client.post(ADDRESS, {**fields, "currency": typed}).status_code == status
    assert PlantParameters.objects.get().currency == kept
