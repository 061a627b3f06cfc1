"""The week on paper: runs by the ISO week (ISO 8601) of their start on the plant's clock."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from django.test import Client

from stockplan.planner.models import ListedRun
from tests.pages.shown_plant import ShownPlant

BERLIN = ZoneInfo("Europe/Berlin")
# ISO 8601: 2027 begins on a Friday, so 3 January is the Sunday of week 53 of 2026 and 4 January the Monday of W01.
SUNDAY_NIGHT = datetime(2027, 1, 3, 23, 30, tzinfo=BERLIN)
MONDAY_JUST_AFTER_MIDNIGHT = datetime(2027, 1, 4, 0, 30, tzinfo=BERLIN)


def start_at(rank: int, start: datetime) -> None:
    ListedRun.objects.filter(rank=rank).update(start=start)


def test_week_page_begins_with_the_first_week_of_the_list(
    shown: ShownPlant, logged_in: Callable[[str], Client]
) -> None:
    start_at(1, MONDAY_JUST_AFTER_MIDNIGHT)
    start_at(2, SUNDAY_NIGHT)
    context = logged_in("planner").get("/admin/make-list/week/").context
    assert (context["weeks"], context["week"]) == (["2026-W53", "2027-W01"], "2026-W53")
    assert [run.rank for _, runs in context["lines"] for run in runs] == [2]


def test_week_page_shows_the_week_asked_for(shown: ShownPlant, logged_in: Callable[[str], Client]) -> None:
    start_at(1, MONDAY_JUST_AFTER_MIDNIGHT)
    start_at(2, SUNDAY_NIGHT)
    context = logged_in("planner").get("/admin/make-list/week/", {"week": "2027-W01"}).context
    assert [run.rank for _, runs in context["lines"] for run in runs] == [1]


def test_week_page_prints_a_caution_with_every_line(shown: ShownPlant, logged_in: Callable[[str], Client]) -> None:
    text = logged_in("planner").get("/admin/make-list/week/").text
    assert text.count("Work by the machine's manual") == text.count("<h2>Line ") == 1
