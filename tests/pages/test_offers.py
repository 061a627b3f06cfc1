"""Codes offered while somebody types one."""

from __future__ import annotations

from collections.abc import Callable
from html import unescape
from re import findall

import pytest
from django.test import Client

from stockplan.planner.selectors.offered_codes import MOST_OFFERED
from tests.pages.shown_plant import ShownPlant, add_filament

LogIn = Callable[[str], Client]


def _offered(client: Client, kind: str, typed: str) -> list[str]:
    return findall(r'<option value="([^"]*)">', unescape(client.get(f"/admin/codes/{kind}/", {"q": typed}).text))


@pytest.mark.parametrize(
    ("kind", "typed", "codes"),
    [
        ("sku", "ruby", ["PLA-RUBY-1000"]),
        ("item", "ruby", ["MB-RUBY", "PLA-RUBY-1000"]),
        ("material", "concentrate RUBY", ["MB-RUBY"]),
        ("filament", "ruby", ["PLA-RUBY-1.75"]),
        ("line", "l1", ["L1"]),
        ("sku", "nothing like it", []),
    ],
)
def test_codes_that_hold_each_word_are_offered(
    shown: ShownPlant, logged_in: LogIn, kind: str, *, typed: str, codes: list[str]
) -> None:
    assert _offered(logged_in("planner"), kind, typed) == codes


def test_no_more_are_offered_than_one_reads(shown: ShownPlant, logged_in: LogIn) -> None:
    for number in range(MOST_OFFERED + 5):
        add_filament(shown.tiny, f"N{number}", name="N", colour_hex="#123456")
    assert len(_offered(logged_in("floor"), "filament", "")) == MOST_OFFERED


def test_unknown_kind_of_codes_is_not_found(shown: ShownPlant, logged_in: LogIn) -> None:
    assert logged_in("floor").get("/admin/codes/people/").status_code == 404
