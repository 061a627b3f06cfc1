"""Which log-in opens which page. The roles themselves are tested where they are defined."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from tests.pages.shown_plant import WORKING_PATHS, ShownPlant

LogIn = Callable[[str], Client]
FLOOR = {
    "/admin/stock/", "/admin/due/", "/admin/line/", "/admin/ovens/", "/admin/store/", "/admin/counts/",
    "/admin/trace/", "/admin/run-cards/",
}  # fmt: skip
PLANS = {
    "/admin/make-list/",
    "/admin/make-list/week/",
    "/admin/purchases/",
    "/admin/forecast/",
    "/admin/replays/",
    "/admin/learned/",
}
OPENS = {
    "sales": {"/admin/stock/", "/admin/due/"},
    "planner": FLOOR | PLANS,
    "floor": FLOOR,
    "owner": FLOOR | PLANS | {"/admin/owner/"},
}
PATHS = sorted(OPENS["owner"])


@pytest.mark.parametrize("role", OPENS)
def test_entry_page_lists_exactly_the_pages_of_the_role(shown: ShownPlant, logged_in: LogIn, role: str) -> None:
    pages = logged_in(role).get("/admin/").context["working_pages"]
    assert {page.path for page in pages} == OPENS[role]


@pytest.mark.parametrize("role", OPENS)
def test_role_is_refused_every_other_page(shown: ShownPlant, logged_in: LogIn, role: str) -> None:
    client = logged_in(role)
    opened = {path for path in PATHS if client.get(path).status_code == 200}
    assert opened == OPENS[role]
    assert {client.get(path).status_code for path in set(PATHS) - opened} <= {403}


@pytest.mark.parametrize("path", PATHS)
def test_stranger_is_sent_to_the_log_in_and_back(shown: ShownPlant, client: Client, path: str) -> None:
    answer = client.get(path)
    assert (answer.status_code, answer["Location"]) == (302, f"/admin/login/?next={path}")


@pytest.mark.parametrize("role", ["sales", "floor"])
def test_who_does_not_plan_gives_no_instruction(shown: ShownPlant, logged_in: LogIn, role: str) -> None:
    assert logged_in(role).post("/admin/filaments/PLA-SAND-1.75/pin/", {}).status_code == 403


@pytest.mark.parametrize("path", ["/admin/skus/NO-SUCH/", "/admin/filaments/NO-SUCH/", "/admin/run-cards/NO-SUCH/"])
def test_unknown_code_is_not_found(shown: ShownPlant, logged_in: LogIn, path: str) -> None:
    assert logged_in("owner").get(path).status_code == 404


def test_pages_say_so_when_no_plant_is_loaded(db: None, logged_in: LogIn) -> None:
    assert "No plant is loaded yet" in logged_in("sales").get("/admin/stock/").text


@pytest.mark.parametrize("path", WORKING_PATHS)
def test_every_page_says_what_it_is_for(shown: ShownPlant, logged_in: LogIn, path: str) -> None:
    assert '<p class="help' in logged_in("owner").get(shown.fill_in(path)).text
