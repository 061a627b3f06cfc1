"""What finished runs teach, shown with count and spread and entered by the planner."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Line
from inventory.rules.clock import Clock
from inventory.services.runs import finish_run, release_run, start_run
from stockplan.planner.models import AcceptedFigures
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
BLACK = "PLA-BLACK-1000"
PAGE = "/admin/learned/"


@pytest.fixture
def slow_run(shown: ShownPlant) -> None:
    """One run, finished before now, that took far longer than planned."""
    began = timezone.now() - timedelta(days=1)
    run = release_run(
        filament_code="PLA-BLACK-1.75",
        line_code="L1",
        spools={BLACK: 10},
        planned_start=began,
        planned_end=began + timedelta(hours=2),
        clock=Clock.at(began),
    )
    start_run(run_code=run.code, clock=Clock.at(began))
    finish_run(
        run_code=run.code,
        good={BLACK: 10},
        scrap={BLACK: 1},
        real_minutes=Decimal(400),
        purge_kg=Decimal(0),
        clock=Clock.at(began + timedelta(hours=7)),
    )


@pytest.mark.usefixtures("slow_run")
def test_line_is_shown_with_entered_and_learned_figures_their_spread_and_count(logged_in: LogIn) -> None:
    answer = logged_in("planner").get(PAGE)
    figure = answer.context["lines"]["L1"].winding_factor
    assert (figure.runs, figure.entered) == (1, 1.0)
    row = answer.text.split("Winding time")[1].split("</tr>")[0]
    shares = [f"{100 * share:.1f}%" for share in (1.0, figure.learned, figure.spread)]
    assert [share for share in shares if share in row] == shares


@pytest.mark.usefixtures("slow_run")
def test_planner_enters_what_was_shown_and_the_page_says_so(logged_in: LogIn) -> None:
    client, before = logged_in("planner"), Line.objects.get(code="L1").availability
    shown_at = client.get(PAGE).context["as_of"]
    answer = client.post(f"{PAGE}L1/accept/", {"as_of": shown_at}, follow=True)
    assert "Entered for line L1" in answer.text
    assert "No finished run to learn from: none is finished yet, or all were accepted before" in answer.text
    kept = AcceptedFigures.objects.get()
    assert (str(kept.accepted_by), kept.learned_to.isoformat()) == ("planner-person", shown_at)
    assert Line.objects.get(code="L1").availability < before


@pytest.mark.usefixtures("slow_run")
@pytest.mark.parametrize("typed", ["", "yesterday", "2027-03-01T10:00:00", "2027-13-01T10:00:00+00:00"])
def test_acceptance_that_does_not_say_what_was_shown_enters_nothing(logged_in: LogIn, typed: str) -> None:
    answer = logged_in("planner").post(f"{PAGE}L1/accept/", {"as_of": typed}, follow=True)
    assert "the page did not say what it showed" in answer.text
    assert not AcceptedFigures.objects.exists()


def test_line_without_runs_enters_nothing_and_says_why(shown: ShownPlant, logged_in: LogIn) -> None:
    asked = {"as_of": timezone.now().isoformat()}
    answer = logged_in("planner").post(f"{PAGE}L1/accept/", asked, follow=True)
    assert "Nothing was entered: Line L1 has no finished run" in answer.text


@pytest.mark.usefixtures("slow_run")
def test_who_does_not_plan_may_not_enter(logged_in: LogIn) -> None:
    assert logged_in("floor").post(f"{PAGE}L1/accept/", {"as_of": timezone.now().isoformat()}).status_code == 403
