"""A released run that the planner moves from its card."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Run
from tests.pages.shown_plant import ShownPlant, place_due_order

LogIn = Callable[[str], Client]
BERLIN = ZoneInfo("Europe/Berlin")


def _in_days(days: int) -> str:
    return f"{timezone.localtime(timezone.now() + timedelta(days=days), BERLIN):%Y-%m-%dT%H:%M}"


def test_moved_run_keeps_its_length_and_takes_its_promises_along(shown: ShownPlant, logged_in: LogIn) -> None:
    place_due_order([("PETG-NAT-1000", 2)], reference="WAITS", now=timezone.now())
    before, start = Run.objects.get(), _in_days(12)
    text = logged_in("planner").post(f"/admin/run-cards/{before.code}/move/", {"start": start}, follow=True).text
    moved = Run.objects.get()
    assert f"{moved.planned_start.astimezone(BERLIN):%Y-%m-%dT%H:%M}" == start
    assert moved.planned_end - moved.planned_start == before.planned_end - before.planned_start
    assert "The run is moved. 1 promise moved with it." in text


@pytest.mark.parametrize("typed", ["", "soon"])
def test_move_without_a_time_is_refused_at_the_field(shown: ShownPlant, logged_in: LogIn, typed: str) -> None:
    before = Run.objects.get().planned_start
    answer = logged_in("planner").post(f"/admin/run-cards/{shown.run.code}/move/", {"start": typed})
    assert (answer.status_code, 'role="alert"' in answer.text) == (422, True)
    assert Run.objects.get().planned_start == before


def test_started_run_is_not_moved(shown: ShownPlant, logged_in: LogIn) -> None:
    now = timezone.now()
    Run.objects.update(state="started", started_at=now, started_known_at=now)
    planner = logged_in("planner")
    assert "Move this run" not in planner.get(f"/admin/run-cards/{shown.run.code}/").text
    answer = planner.post(f"/admin/run-cards/{shown.run.code}/move/", {"start": _in_days(3)})
    assert (answer.status_code, "only its end can move" in answer.text) == (422, True)


def test_only_who_plans_moves_a_run(shown: ShownPlant, logged_in: LogIn) -> None:
    floor = logged_in("floor")
    assert "Move this run" not in floor.get(f"/admin/run-cards/{shown.run.code}/").text
    assert floor.post(f"/admin/run-cards/{shown.run.code}/move/", {"start": _in_days(3)}).status_code == 403
