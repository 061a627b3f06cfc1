"""The week on paper: runs by the ISO week (ISO 8601) of their start on the plant's clock."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Run
from inventory.rules.clock import Clock
from inventory.services.runs import cancel_run, reschedule_run
from stockplan.planner.models import ListedRun, MakeList
from stockplan.planner.pages.week import iso_week
from tests.pages.shown_plant import ShownPlant

BERLIN = ZoneInfo("Europe/Berlin")
# ISO 8601: 2027 begins on a Friday, so 3 January is the Sunday of week 53 of 2026 and 4 January the Monday of W01.
SUNDAY_NIGHT = datetime(2027, 1, 3, 23, 30, tzinfo=BERLIN)
MONDAY_JUST_AFTER_MIDNIGHT = datetime(2027, 1, 4, 0, 30, tzinfo=BERLIN)


@pytest.fixture
def listed(shown: ShownPlant) -> ShownPlant:
    """Nothing is released; rank 2 of the list begins on a Sunday night, rank 1 half an hour into the next week."""
    cancel_run(run_code=shown.run.code, clock=Clock.at(timezone.now()))
    for rank, start in ((1, MONDAY_JUST_AFTER_MIDNIGHT), (2, SUNDAY_NIGHT)):
        ListedRun.objects.filter(rank=rank).update(start=start)
    return shown


def test_week_page_begins_with_the_first_week_of_the_list(
    listed: ShownPlant, logged_in: Callable[[str], Client]
) -> None:
    found = logged_in("planner").get("/admin/make-list/week/").context["found"]
    assert (found.weeks, found.week) == (["2026-W53", "2027-W01"], "2026-W53")
    assert [run.rank for run in found.runs] == [2]


def test_week_page_shows_the_week_asked_for(listed: ShownPlant, logged_in: Callable[[str], Client]) -> None:
    found = logged_in("planner").get("/admin/make-list/week/", {"week": "2027-W01"}).context["found"]
    assert [run.rank for run in found.runs] == [1]


def test_week_page_has_a_released_run_as_it_is_planned_now(
    shown: ShownPlant, logged_in: Callable[[str], Client]
) -> None:
    later = timezone.now() + timedelta(days=14)
    reschedule_run(
        run_code=shown.run.code,
        planned_start=later,
        planned_end=later + timedelta(hours=2),
        clock=Clock.at(timezone.now()),
    )
    planner, week = logged_in("planner"), iso_week(later)
    found = planner.get("/admin/make-list/week/", {"week": week}).context["found"]
    assert [(run.run_code, run.start) for run in found.runs] == [(shown.run.code, later)]
    # Without a list it stands there all the same.
    MakeList.objects.all().delete()
    assert shown.run.code in planner.get("/admin/make-list/week/").text


def test_run_that_should_have_begun_last_week_is_on_the_sheet_of_this_one(
    shown: ShownPlant, logged_in: Callable[[str], Client]
) -> None:
    Run.objects.update(planned_start=timezone.now() - timedelta(days=9))
    found = logged_in("planner").get("/admin/make-list/week/").context["found"]
    assert found.week == iso_week(timezone.now())
    assert shown.run.code in [run.run_code for run in found.runs]


def test_week_page_prints_a_caution_with_every_line(shown: ShownPlant, logged_in: Callable[[str], Client]) -> None:
    text = logged_in("planner").get("/admin/make-list/week/").text
    assert text.count("Work by the machine's manual") == text.count("<h2>Line ") == 1
