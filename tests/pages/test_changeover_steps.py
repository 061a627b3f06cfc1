"""Steps of a changeover on the page of a line: ticked, taken back, and told on the run card."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from inventory.models import Run, StepTick
from inventory.selectors.changeover_steps import steps_of_run
from stockplan.planner.templatetags.planner_pages import moment
from tests.inventory.builders import ZONE

LogIn = Callable[[str], Client]


def tick(client: Client, step: str, *, name: str = "done", run: str = "") -> HttpResponse:
    posted = {name: step, "run": run or Run.objects.get().code}
    return client.post("/admin/line/L1/steps/", posted, follow=True)


def test_steps_are_ticked_where_they_are_listed_and_stand_on_the_card(running: Client) -> None:
    text = running.get("/admin/line/L1/").text
    assert 'name="done" value="purge"' in text
    answer = tick(running, "purge")
    assert answer.redirect_chain == [(f"/admin/line/L1/#steps-{Run.objects.get().code}", 302)]
    assert 'name="done" value="purge"' not in answer.text
    assert 'name="back" value="purge"' in answer.text
    tick(running, "purge")
    assert StepTick.objects.get().posted_by.username == "floor-person"
    card = running.get(f"/admin/run-cards/{Run.objects.get().code}/").text
    with timezone.override(ZONE):
        assert card.count(f"ticked {moment(StepTick.objects.get().occurred_at)}, floor-person") == 1


def test_step_taken_back_leaves_its_trace_on_the_card(running: Client) -> None:
    tick(running, "purge")
    assert 'name="done" value="purge"' in tick(running, "purge", name="back").text
    card = running.get(f"/admin/run-cards/{Run.objects.get().code}/").text
    ticked, taken_back = StepTick.objects.order_by("turn")
    with timezone.override(ZONE):
        assert f"ticked {moment(ticked.occurred_at)}, floor-person" in card
        assert f"taken back {moment(taken_back.occurred_at)}, floor-person" in card


def test_steps_of_the_next_run_may_be_ticked_before_it_starts(floor: Client) -> None:
    tick(floor, "resin")
    assert StepTick.objects.get().run.state == "released"


@pytest.mark.parametrize("posted", [{"done": "lunch"}, {}, {"done": "purge", "run": "R9"}])
def test_step_that_is_none_is_told_and_nothing_is_ticked(running: Client, posted: dict[str, str]) -> None:
    answer = running.post("/admin/line/L1/steps/", {"run": Run.objects.get().code} | posted)
    assert (answer.status_code, StepTick.objects.exists()) == (422, False)


def test_only_the_floor_ticks(running: Client, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    assert 'name="done" value' not in planner.get("/admin/line/L1/").text
    assert planner.post("/admin/line/L1/steps/", {"done": "purge"}).status_code == 403


def test_changeover_whose_steps_are_all_ticked_is_folded_away(running: Client) -> None:
    for row in steps_of_run(Run.objects.get().code):
        assert "Changed over: every step is ticked" not in running.get("/admin/line/L1/").text
        tick(running, row.step)
    assert "Changed over: every step is ticked" in running.get("/admin/line/L1/").text
