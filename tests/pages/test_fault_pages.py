"""What a person sees where something went wrong: words of the plant in the frame of the site, none of a programmer."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from django.test import Client

from tests.pages.conftest import BACKEND
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]


def test_address_that_is_not_there_says_what_is_missing_and_leads_back(shown: ShownPlant, logged_in: LogIn) -> None:
    answer = logged_in("floor").get("/admin/line/L9/")
    assert answer.status_code == 404
    assert "There is no line L9 in use." in answer.text
    assert 'href="/admin/ovens/"' in answer.text


def test_address_of_no_page_at_all_is_said_in_words(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("floor").get("/nowhere/").text
    assert "There is no page at this address." in text
    assert "Resolver404" not in text


def test_form_from_before_the_log_in_says_what_to_do(shown: ShownPlant, person: Callable[[str], User]) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(person("floor"), backend=BACKEND)
    answer = client.post("/admin/line/L1/start/", {"cautions": "read"})
    assert answer.status_code == 403
    assert "Nothing was written." in answer.text
    assert "CSRF" not in answer.text


def test_form_after_the_log_in_ended_says_so_and_leads_back_to_its_page(shown: ShownPlant, logged_in: LogIn) -> None:
    nobody = Client()
    asked = nobody.post("/admin/line/L1/start/", {"cautions": "read"}, follow=True)
    assert "Nothing was written: your log-in had ended." in asked.text
    address = asked.redirect_chain[-1][0].partition("?next=")[2]
    assert logged_in("floor").get(address, follow=True).redirect_chain == [("/admin/line/L1/", 302)]


@pytest.mark.parametrize(
    ("address", "above"),
    [
        ("/admin/stock/take/?q=pla", "/admin/stock/?q=pla"),
        ("/admin/stock/kept/7/resume/", "/admin/stock/"),
        ("/admin/ovens/O1/load/?oven=O1", "/admin/ovens/?oven=O1"),
        ("/admin/instructions/7/withdraw/", "/admin/"),
    ],
)
def test_address_of_a_form_leads_to_the_page_above_it(
    shown: ShownPlant, logged_in: LogIn, address: str, above: str
) -> None:
    planner = logged_in("planner")
    assert planner.get(address)["Location"] == above
    assert planner.put(address).status_code == 405


def test_fault_of_the_service_says_that_it_is_none_of_the_reader(
    shown: ShownPlant, logged_in: LogIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_args: object, **_kwargs: object) -> None:
        raise RuntimeError("secret inside")

    monkeypatch.setattr("stockplan.planner.pages.line.line_codes", broken)
    client = logged_in("floor")
    client.raise_request_exception = False
    answer = client.get("/admin/line/")
    assert answer.status_code == 500
    assert "It is no mistake of yours." in answer.text
    assert "secret inside" not in answer.text


def test_wrong_password_is_told_in_words_of_the_plant(shown: ShownPlant, client: Client) -> None:
    text = client.post("/admin/login/", {"username": "sales", "password": "wrong"}).text
    assert "This user name and password do not belong together" in text
    assert "staff" not in text
