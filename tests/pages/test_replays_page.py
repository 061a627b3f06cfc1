"""Replays of past days: their tables, and the exchange curves of the same days."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from forecasting.messages import message
from stockplan.planner.models import AskedReplay, StoredReplay
from stockplan.planner.services import asked_replays
from tests.pages.conftest import log_in_again
from tests.pages.shown_plant import ShownPlant, build_curve

LogIn = Callable[[str], Client]


def test_page_shows_shares_stock_and_line_time_of_each_point(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("owner").get("/admin/replays/").text
    # 16 of 20 orders, 24 of 30 lines and 32 of 40 spools; of 40 h of the lines 25 wound, 5 changed over, 10 idle.
    for words in ("16 / 20", "24 / 30", "32 / 40", ">25.0<", ">5.0<", ">10.0<", "12.5", "x 2"):
        assert words in text


def test_chart_draws_one_line_a_policy_and_says_where_it_is_best(shown: ShownPlant, logged_in: LogIn) -> None:
    build_curve("reorder-point", shares=(0.5, 0.6), now=timezone.now())
    picture = logged_in("planner").get("/admin/replays/").context["exchange"]
    assert {line["name"]: line["points"] for line in picture.drawn["lines"]} == {
        "Make list": [[100, 80.0], [200, 95.0]],
        "Reorder points, the best of six": [[100, 50.0], [200, 60.0]],
    }
    assert "Make list: at most 95.0" in picture.words


def test_curve_of_other_days_or_an_older_one_is_not_drawn(shown: ShownPlant, logged_in: LogIn) -> None:
    now = timezone.now()
    build_curve("make-list", shares=(0.1, 0.2), now=now - timedelta(days=1))
    elsewhere = build_curve("reorder-point", shares=(0.5, 0.6), now=now - timedelta(days=1))
    StoredReplay.objects.filter(pk=elsewhere.pk).update(last_day="2027-02-12")
    lines = logged_in("planner").get("/admin/replays/").context["exchange"].drawn["lines"]
    assert [(line["name"], line["points"][0][1]) for line in lines] == [("Make list", 80.0)]


def test_replay_without_a_curve_has_a_table_alone(shown: ShownPlant, logged_in: LogIn) -> None:
    StoredReplay.objects.update(is_curve=False)
    answer = logged_in("planner").get("/admin/replays/")
    assert answer.context["exchange"] is None
    assert "16 / 20" in answer.text


def test_planner_without_replays_is_offered_the_last_four_weeks(shown: ShownPlant, logged_in: LogIn) -> None:
    StoredReplay.objects.all().delete()
    answer = logged_in("planner").get("/admin/replays/")
    days = answer.context["form"].initial
    assert "No past days were replayed yet." in answer.text
    assert (days["first_day"].isoweekday(), days["last_day"].isoweekday()) == (1, 7)
    assert (days["last_day"] - days["first_day"]).days == 27
    assert days["last_day"] < timezone.localdate()


def _asked(logged_in: LogIn, **given: str) -> HttpResponse:
    first = timezone.localdate() - timedelta(days=14)
    usual = {
        "first_day": str(first),
        "last_day": str(first + timedelta(days=6)),
        "policy": "make-list",
        "how": "once",
    }
    return logged_in("planner").post("/admin/replays/ask/", {**usual, **given})


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    numbers: list[int] = []
    monkeypatch.setattr(asked_replays, "start_process", numbers.append)
    return numbers


@pytest.mark.django_db(transaction=True)
def test_planner_asks_for_a_replay_and_sees_how_far_it_is(
    shown: ShownPlant, logged_in: LogIn, started: list[int]
) -> None:
    assert _asked(logged_in, how="curve").status_code == 302
    asked = AskedReplay.objects.get()
    assert (asked.is_curve, asked.asked_by.username, started) == (True, "planner-person", [asked.pk])
    AskedReplay.objects.update(days_done=12, days_in_all=45)
    client = Client()
    log_in_again(client, "planner")
    text = client.get("/admin/replays/").text
    assert '<progress aria-labelledby="under-way" max="45" value="12"></progress>' in text
    assert "12 of 45 days replayed" in text
    assert 'action="/admin/replays/ask/"' not in text
    assert client.get("/admin/replays/progress/").json() == {"is_over": False, "done": 12, "in_all": 45}
    AskedReplay.objects.update(ended_at=timezone.now(), failure=message("The books lay open."))
    assert client.get("/admin/replays/progress/").json() == {"is_over": True}
    assert "came to nothing: The books lay open." in client.get("/admin/replays/").text


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"first_day": "tomorrow"}, "Enter a valid date."),
        ({"first_day": ""}, "This field is required."),
        ({"last_day": "2999-01-01"}, "At most 92 days"),
        ({"first_day": "2027-01-05", "last_day": "2027-01-04"}, "before the first"),
        ({"policy": "guess"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_replayed_is_said_at_the_form(
    shown: ShownPlant, logged_in: LogIn, started: list[int], given: dict[str, str], words: str
) -> None:
    answer = _asked(logged_in, **given)
    assert answer.status_code == 422
    assert words in answer.text
    assert not AskedReplay.objects.exists()


@pytest.mark.parametrize("role", ["sales", "floor"])
def test_who_does_not_plan_asks_for_nothing(shown: ShownPlant, logged_in: LogIn, started: list[int], role: str) -> None:
    client = logged_in(role)
    assert client.post("/admin/replays/ask/", {}).status_code == 403
    assert client.get("/admin/replays/progress/").status_code == 403


def test_point_without_orders_is_left_out_of_the_chart(shown: ShownPlant, logged_in: LogIn) -> None:
    replay = StoredReplay.objects.get()
    replay.rows[0]["orders"] = {"due": 0, "kept": 0}
    replay.save()
    lines = logged_in("planner").get("/admin/replays/").context["exchange"].drawn["lines"]
    assert lines[0]["points"] == [[200, 95.0]]
