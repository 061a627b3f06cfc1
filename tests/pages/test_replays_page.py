"""Replays of past days: their tables, and the exchange curves of the same days."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.test import Client
from django.utils import timezone

from stockplan.planner.models import StoredReplay
from tests.pages.shown_plant import ShownPlant, build_curve

LogIn = Callable[[str], Client]


def test_page_shows_shares_stock_and_line_time_of_each_point(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("owner").get("/admin/replays/").text
    # 16 of 20 orders, 24 of 30 lines and 32 of 40 spools; of 40 h of the lines 25 wound, 5 changed over, 10 idle.
    for words in ("16 / 20", "24 / 30", "32 / 40", "25 h 00 min", "5 h 00 min", "10 h 00 min", "12.5", "x 2"):
        assert words in text


def test_chart_draws_one_line_a_policy_and_says_where_it_is_best(shown: ShownPlant, logged_in: LogIn) -> None:
    build_curve("reorder-point", shares=(0.5, 0.6), now=timezone.now())
    picture = logged_in("planner").get("/admin/replays/").context["exchange"]
    assert {line["name"]: line["points"] for line in picture.drawn["lines"]} == {
        "make-list": [[100, 80.0], [200, 95.0]],
        "reorder-point": [[100, 50.0], [200, 60.0]],
    }
    assert "make-list: at most 95.0" in picture.words


def test_curve_of_other_days_or_an_older_one_is_not_drawn(shown: ShownPlant, logged_in: LogIn) -> None:
    now = timezone.now()
    build_curve("make-list", shares=(0.1, 0.2), now=now - timedelta(days=1))
    elsewhere = build_curve("reorder-point", shares=(0.5, 0.6), now=now - timedelta(days=1))
    StoredReplay.objects.filter(pk=elsewhere.pk).update(last_day="2027-02-12")
    lines = logged_in("planner").get("/admin/replays/").context["exchange"].drawn["lines"]
    assert [(line["name"], line["points"][0][1]) for line in lines] == [("make-list", 80.0)]


def test_replay_without_a_curve_has_a_table_alone(shown: ShownPlant, logged_in: LogIn) -> None:
    StoredReplay.objects.update(is_curve=False)
    answer = logged_in("planner").get("/admin/replays/")
    assert answer.context["exchange"] is None
    assert "16 / 20" in answer.text


def test_page_says_how_to_replay_when_nothing_was(shown: ShownPlant, logged_in: LogIn) -> None:
    StoredReplay.objects.all().delete()
    assert "python manage.py replay" in logged_in("planner").get("/admin/replays/").text


def test_point_without_orders_is_left_out_of_the_chart(shown: ShownPlant, logged_in: LogIn) -> None:
    replay = StoredReplay.objects.get()
    replay.rows[0]["orders"] = {"due": 0, "kept": 0}
    replay.save()
    lines = logged_in("planner").get("/admin/replays/").context["exchange"].drawn["lines"]
    assert lines[0]["points"] == [[200, 95.0]]
