"""Announced demand on its page: announced, shown on the SKU's page, withdrawn, refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.test import Client
from django.utils import timezone

from stockplan.planner.models import AnnouncedDemand
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
PATH = "/admin/forecast/announced/"


def _typed(**changed: str) -> dict[str, str]:
    first = timezone.localdate() + timedelta(days=3)
    days = {"first_day": f"{first}", "last_day": f"{first + timedelta(days=4)}"}
    return {"name": "Open day", "scope": "filament:PLA-BLACK-1.75", "factor": "1.5"} | days | changed


def test_planner_announces_demand_and_the_page_of_the_sku_says_so(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("planner")
    done = client.post(f"{PATH}add/", _typed(), follow=True)
    assert "The next forecast takes it into account." in done.text
    assert ">Open day</th>" in done.text
    of_black = client.get("/admin/skus/PLA-BLACK-1000/").text
    assert "<strong>Open day</strong> is announced from" in of_black
    assert "1.50 times the usual demand" in of_black
    assert "Open day" not in client.get("/admin/skus/PLA-SAND-1000/").text


def test_announcement_is_withdrawn_on_the_page(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("planner")
    client.post(f"{PATH}add/", _typed(scope=""))
    row = AnnouncedDemand.objects.get()
    done = client.post(f"{PATH}{row.pk}/withdraw/", follow=True)
    assert "The next forecast does without it." in done.text
    assert "Open day" not in client.get(PATH).text
    again = client.post(f"{PATH}{row.pk}/withdraw/", follow=True)
    assert f"There is no announcement {row.pk} in force." in again.text


def test_announcement_with_a_fault_keeps_what_was_typed(shown: ShownPlant, logged_in: LogIn) -> None:
    answer = logged_in("planner").post(f"{PATH}add/", _typed(factor="30"))
    assert answer.status_code == 422
    assert "The factor must be 0.05 to 20, got 30." in answer.text
    assert 'value="Open day"' in answer.text
    assert not AnnouncedDemand.objects.exists()


def test_owner_sees_announcements_and_cannot_announce(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("owner")
    assert client.get(PATH).status_code == 200
    assert logged_in("floor").get(PATH).status_code == 403
    assert logged_in("sales").post(f"{PATH}add/", _typed()).status_code == 403
    assert not AnnouncedDemand.objects.exists()
