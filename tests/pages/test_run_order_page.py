"""Number fields that put the runs of a line into another order: what is tried, set, and refused beside its field."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Run, RunPlan
from inventory.rules.clock import Clock
from inventory.services.runs import cancel_run, start_run
from stockplan.planner.models import MakeList, PlannerInstruction
from stockplan.planner.selectors.line_orders import line_orders
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
LINES, ORDER = "/admin/make-list/lines/", "/admin/make-list/order/"


def typed(**places: object) -> dict[str, str]:
    """The form as a browser posts it: every run of L1 with the place it has, but for those that are named."""
    orders = line_orders()
    stands = {run.key: run.place for run in orders.runs if run.place} | {
        key.replace("_", "-"): place for key, place in places.items()
    }
    return {"seen": orders.seen, "shown-line": "", "shown-page": "1"} | {
        f"place-{key}": str(place) for key, place in stands.items()
    }


def test_page_has_a_field_for_each_run_that_has_not_started(shown: ShownPlant, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    text = planner.get(LINES).text
    assert f'name="place-{shown.run.code}" value="1"' in text
    assert 'aria-label="Place of PLA-BLACK-1.75 on L1"' in text
    Run.objects.update(drying_from=timezone.now() - timedelta(hours=9))
    start_run(run_code=shown.run.code, clock=Clock.at(timezone.now()))
    text = planner.get(LINES).text
    assert f"place-{shown.run.code}" not in text
    assert "under way" in text


def test_who_does_not_plan_reads_places_and_sets_none(shown: ShownPlant, logged_in: LogIn) -> None:
    floor = logged_in("floor")
    assert "place-rank-1" not in floor.get(LINES).text
    assert floor.post(ORDER, typed(rank_1=2)).status_code == 403


def test_typed_place_shows_its_price_and_writes_nothing(shown: ShownPlant, second_run: Run, logged_in: LogIn) -> None:
    answer = logged_in("planner").post(ORDER, typed(**{second_run.code: 1}))
    assert answer.status_code == 200
    assert [run.key for run in answer.context["tried"].runs if run.is_released] == [second_run.code, shown.run.code]
    for words in ("Expected misses", "Changeovers", "Purge", "Order lines whose ship day moves", "Set this order"):
        assert words in answer.text
    assert f'name="place-{second_run.code}" value="1"' in answer.text
    assert (RunPlan.objects.count(), PlannerInstruction.objects.count()) == (2, 0)


def test_confirmed_order_is_set_and_a_list_computed_behind_it(
    shown: ShownPlant, second_run: Run, logged_in: LogIn
) -> None:
    lists = MakeList.objects.count()
    answer = logged_in("planner").post(ORDER, typed(**{second_run.code: 1}) | {"set": "1"}, follow=True)
    assert "The order is set. 2 released runs have a new plan." in answer.text
    keys = [run.key for run in line_orders().runs]
    assert keys[:2] == [second_run.code, shown.run.code]
    assert (RunPlan.objects.count(), MakeList.objects.count()) == (4, lists + 1)


def test_confirmed_order_of_listed_runs_is_pinned(shown: ShownPlant, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    answer = planner.post(ORDER, typed(rank_1=2) | {"set": "1"}, follow=True)
    assert "The order is set. A new list was computed with it." in answer.text
    pins = PlannerInstruction.objects.values_list("filament__code", "place")
    assert list(pins) == [("PETG-NATURAL-1.75", 1), ("PLA-BLACK-1.75", 2)]
    assert "make it on line L1, place 1 behind the released runs" in planner.get("/admin/make-list/").text


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ({"rank_1": 0}, "L1 then has places 1 to 3, got 0."),
        ({"rank_1": 4}, "L1 then has places 1 to 3, got 4."),
        ({"rank_1": "two"}, "A place is a whole number from 1 on, got &#x27;two&#x27;."),
        ({"rank_1": ""}, "A place is a whole number from 1 on, got &#x27;&#x27;."),
        ({"rank_1": "2.5"}, "A place is a whole number from 1 on, got &#x27;2.5&#x27;."),
        ({"rank_1": 1}, "PETG-NATURAL-1.75 is not released: it stands behind the released runs of L1."),
        ({"rank_1": "9" * 20}, "A place is a whole number"),
    ],
)
def test_bad_number_is_told_beside_its_field(
    shown: ShownPlant, logged_in: LogIn, places: Mapping[str, object], words: str
) -> None:
    answer = logged_in("planner").post(ORDER, typed(**places) | {"set": "1"})
    assert answer.status_code == 422
    field = answer.text.split('name="place-rank-1"')[1].split("</td>")[0]
    assert 'aria-invalid="true"' in field
    assert f'value="{places["rank_1"]}"' in field
    assert f'id="place-fault-rank-1"><strong>{words}' in field
    assert not PlannerInstruction.objects.exists()


def test_two_runs_with_the_same_place_are_refused(shown: ShownPlant, second_run: Run, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    # Only the first has another place than it had: the other makes room.
    assert planner.post(ORDER, typed(**{shown.run.code: 2, second_run.code: 2})).status_code == 200
    answer = planner.post(ORDER, typed(**{shown.run.code: 3, "rank_1": 3}))
    assert "Two runs are given place 3 on L1; each place holds one." in answer.text
    assert answer.status_code == 422


def test_line_that_cannot_make_it_is_told_beside_its_field(shown: ShownPlant, logged_in: LogIn) -> None:
    answer = logged_in("planner").post(ORDER, typed() | {"line-rank-1": "L9"})
    assert answer.status_code == 422
    assert 'id="line-fault-rank-1"><strong>L9 cannot make PETG-NATURAL-1.75; L1 can.' in answer.text


def test_present_order_says_so(shown: ShownPlant, logged_in: LogIn) -> None:
    answer = logged_in("planner").post(ORDER, typed(), follow=True)
    assert "This is the order that stands: nothing to change." in answer.text


def test_what_moved_since_the_page_was_opened_is_told(shown: ShownPlant, second_run: Run, logged_in: LogIn) -> None:
    posted = typed(**{second_run.code: 1})
    cancel_run(run_code=shown.run.code, clock=Clock.at(timezone.now()))
    answer = logged_in("planner").post(ORDER, posted | {"set": "1"})
    assert answer.status_code == 409
    assert "nothing was changed. Look again." in answer.text
    assert RunPlan.objects.count() == 2
