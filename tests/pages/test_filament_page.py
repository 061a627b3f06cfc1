"""What the newest list says of one filament."""

from __future__ import annotations

import re
from collections.abc import Callable

from django.test import Client
from django.utils import timezone

from forecasting.messages import message
from stockplan.planner.models import ListedRun, ListedRunSize, PlannerInstruction
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
PATH = "/admin/filaments/PLA-BLACK-1.75/"


def add_second_run(shown: ShownPlant) -> None:
    """Black once more, as rank 4, with five spools beside the eight of rank 2."""
    now = timezone.now()
    run = ListedRun.objects.create(
        make_list=shown.make_list,
        rank=4,
        filament=shown.tiny.black,
        line=shown.tiny.line,
        place_on_line=3,
        misses_avoided=1,
        worth_per_hour=1,
        reason=message("A second run."),
        **{"start": now, "end": now, "shelf_at": now, "shelf_day": now.date()},
    )
    size = {"free": 0, "order_up_to": 8, "misses_avoided": 1}
    ListedRunSize.objects.create(listed_run=run, sku=shown.tiny.black_1kg, spools=5, **size)


def test_filament_page_names_every_run_on_the_list(shown: ShownPlant, logged_in: LogIn) -> None:
    add_second_run(shown)
    text = logged_in("planner").get(PATH).text
    assert re.findall(r"<strong>Rank (\d)</strong> on line L1, place (\d)\. (.+?) <a", text) == [
        ("2", "1", "Reason of rank 2."),
        ("4", "3", "A second run."),
    ]


def test_filament_page_adds_up_the_spools_of_all_its_runs(shown: ShownPlant, logged_in: LogIn) -> None:
    add_second_run(shown)
    sizes = logged_in("planner").get(PATH).context["sizes"]
    assert [spools for size, spools in sizes if size.sku_code == "PLA-BLACK-1000"] == [8 + 5]


def test_filament_page_says_why_it_is_not_listed(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/filaments/PLA-SAND-1.75/").text
    assert "Not on the list. Free stock lasts for five more weeks." in text


def test_last_day_that_is_over_is_refused_at_its_field_and_stays_typed(shown: ShownPlant, logged_in: LogIn) -> None:
    answer = logged_in("planner").post(f"{PATH}pin/", {"pin-last_day": "2026-01-02", "pin-note": "for the window"})
    assert answer.status_code == 422
    assert re.search(r'value="2026-01-02".{0,200}is over: the last day is', answer.text, re.DOTALL)
    assert 'value="for the window"' in answer.text
    assert not PlannerInstruction.objects.exists()
