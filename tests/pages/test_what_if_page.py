"""A change tried from the make list's page: its price, the list that it gives, and what it refuses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

import pytest
from django.test import Client
from django.utils import timezone

from forecasting.messages import message
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.services.orders import place_order
from stockplan.planner.core.whatif import Change
from stockplan.planner.models import ListedRun, MakeList, PlannerInstruction
from stockplan.planner.pages import what_if as what_if_page
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.release import release_line_up_to
from stockplan.planner.services.what_if import WhatIf, what_if
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
PATH = "/admin/make-list/what-if/"


@pytest.fixture
def newest(shown: ShownPlant) -> MakeList:
    """A list of the shown plant that was computed, with the same one before it."""
    MakeList.objects.all().delete()
    now = timezone.now()
    return compute_make_list(as_of=now, now=now, days=5)


def test_make_list_page_offers_every_change_to_who_plans(newest: MakeList, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/make-list/").text
    for change in ("line_down", "rush_order", "item_late", "pin", "forbid", "resize", "replan_released"):
        assert f'action="{PATH}{change}/"' in text


def test_field_says_what_it_means_in_its_change(newest: MakeList, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/make-list/").text
    assert 'id="id_line_down-day_helptext">on which it does not run at all<' in text
    assert 'aria-describedby="id_rush_order-day_helptext"' in text


def test_tried_change_shows_its_price_and_stores_nothing(newest: MakeList, logged_in: LogIn) -> None:
    answer = logged_in("planner").post(f"{PATH}forbid/", {"forbid-filament": "PLA-BLACK-1.75"})
    found = answer.context["found"]
    assert "PLA-BLACK-1.75" not in {run.filament for run in found.runs}
    assert "Nothing is stored" in answer.text
    assert (MakeList.objects.count(), PlannerInstruction.objects.count()) == (1, 0)


def test_tried_order_is_told_when_it_ships(newest: MakeList, logged_in: LogIn) -> None:
    typed = {"rush_order-sku": "PLA-BLACK-1000", "rush_order-spools": "2", "rush_order-day": str(newest.last_day)}
    text = logged_in("planner").post(f"{PATH}rush_order/", typed).text
    assert "<p><strong>The rush order of 2 × PLA-BLACK-1000 due on " in text


def test_price_below_nought_is_written_as_fewer_and_explained(
    newest: MakeList, logged_in: LogIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    def lucky(changes: Sequence[Change], *, now: datetime) -> WhatIf:
        found = what_if(changes, now=now)
        return replace(found, misses_before=found.misses_after + 7)

    monkeypatch.setattr(what_if_page, "what_if", lucky)
    text = logged_in("planner").post(f"{PATH}forbid/", {"forbid-filament": "PLA-BLACK-1.75"}).text
    assert "<dd>7.0 fewer <small>" in text
    assert "the search for a list came upon a better one on the way" in text


def test_runs_that_begin_first_are_shown_and_those_that_begin_later_are_folded(
    newest: MakeList, logged_in: LogIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    def many(changes: Sequence[Change], *, now: datetime) -> WhatIf:
        (one, *_rest) = what_if(changes, now=now).differences
        return replace(what_if(changes, now=now), differences=13 * (replace(one, sentence=message("It differs.")),))

    monkeypatch.setattr(what_if_page, "what_if", many)
    text = logged_in("planner").post(f"{PATH}forbid/", {"forbid-filament": "PLA-BLACK-1.75"}).text
    shown, folded = text.split("<summary>3 runs that begin later differ</summary>")
    assert (shown.count("<li>It differs."), folded.count("<li>It differs.")) == (10, 3)


@pytest.mark.parametrize(
    ("change", "given", "words"),
    [
        ("forbid", {"forbid-filament": "NO-SUCH"}, "There is no filament NO-SUCH in the plant."),
        ("line_down", {"line_down-line": "L1"}, "This field is required."),
        ("rush_order", {"rush_order-sku": "PLA-BLACK-1000", "rush_order-spools": "x"}, "Enter a whole number."),
    ],
)
def test_change_that_cannot_be_is_refused_with_a_sentence(
    newest: MakeList, logged_in: LogIn, change: str, *, given: dict[str, str], words: str
) -> None:
    answer = logged_in("planner").post(f"{PATH}{change}/", given)
    assert answer.status_code == 422
    assert words in answer.text


def test_unknown_change_is_not_found(newest: MakeList, logged_in: LogIn) -> None:
    assert logged_in("planner").post(f"{PATH}miracle/", {}).status_code == 404


def test_who_does_not_plan_tries_nothing(newest: MakeList, logged_in: LogIn) -> None:
    assert logged_in("sales").post(f"{PATH}forbid/", {}).status_code == 403


def test_make_list_page_says_what_changed_since_the_list_before_and_why(newest: MakeList, logged_in: LogIn) -> None:
    later = timezone.now()
    newer = compute_make_list(as_of=later, now=later, days=5)
    ListedRun.objects.filter(make_list=newest).delete()
    text = logged_in("planner").get("/admin/make-list/").text
    first = newer.runs.select_related("filament").order_by("rank").first()
    assert f"New: {first.filament.code} on " in text
    assert str(first.reason) in text.split('id="changes"')[1]


def test_make_list_page_says_that_equal_lists_do_not_differ(newest: MakeList, logged_in: LogIn) -> None:
    later = timezone.now()
    compute_make_list(as_of=later, now=later, days=5)
    assert "0 runs differ from the list of" in logged_in("planner").get("/admin/make-list/").text


def test_changes_say_what_happened_to_each_filament_since(newest: MakeList, logged_in: LogIn) -> None:
    draft = OrderDraft(channel_code="WEB", reference="SINCE", lines=[("PLA-BLACK-1000", 45)])
    place_order(body=draft, clock=Clock.at(timezone.now()))
    later = timezone.now()
    compute_make_list(as_of=later, now=later, days=5)
    changes = logged_in("planner").get("/admin/make-list/changed/").context["found"]
    said = {str(change.what).split()[1]: str(change.since) for change in changes}
    assert said["PLA-BLACK-1.75"] == "Since then 45 spools were ordered."
    assert all("Since then" not in since for code, since in said.items() if code != "PLA-BLACK-1.75")


def test_change_of_a_filament_of_which_nothing_was_heard_says_so(newest: MakeList, logged_in: LogIn) -> None:
    later = timezone.now()
    compute_make_list(as_of=later, now=later, days=5)
    ListedRun.objects.filter(make_list=newest).delete()
    changes = logged_in("planner").get("/admin/make-list/changed/").context["found"]
    assert {str(change.since)[:44] for change in changes} == {"Nothing of it was ordered, instructed or fin"}


def test_change_beside_a_release_says_what_is_kept_for_the_run(newest: MakeList, logged_in: LogIn) -> None:
    first = newest.runs.filter(is_blocked=False).earliest("place_on_line")
    release_line_up_to(listed_run_id=first.pk, clock=Clock.at(timezone.now()))
    later = timezone.now()
    compute_make_list(as_of=later, now=later, days=5)
    ListedRun.objects.filter(make_list=newest, run=None).delete()
    changes = logged_in("planner").get("/admin/make-list/changed/").context["found"]
    kept = "1 run was released: its line, its hopper and its materials are kept for it."
    assert {str(change.since) for change in changes} == {
        f"Nothing of it was ordered, instructed or finished since. {kept}"
    }
