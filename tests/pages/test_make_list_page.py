"""The make list as the planner reads it, and what each press of a button does."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

from django.test import Client
from django.utils import timezone

from forecasting.messages import message
from inventory.models import Run
from stockplan.planner.models import ListedRun, MakeList, PlannerInstruction
from stockplan.planner.selectors.make_lists import plant_zone
from stockplan.planner.templatetags.planner_pages import moment
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]


def test_make_list_page_shows_runs_in_rank_order(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/make-list/").text
    assert re.findall(r"Reason of rank (\d)\.", text) == ["1", "2", "3"]


def test_by_line_page_shows_released_runs_and_behind_them_those_of_the_list(
    shown: ShownPlant, logged_in: LogIn
) -> None:
    lines = logged_in("planner").get("/admin/make-list/lines/").context["lines"]
    assert [(line, [(row.run.place, row.run.key) for row in rows]) for line, rows in lines] == [
        ("L1", [(1, shown.run.code), (2, "rank-2"), (3, "rank-1")])
    ]


def test_make_list_page_shows_misses_without_and_with(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/make-list/").text
    assert re.findall(r"<dd>([\d.]+) <small>(?:spools not shipped|of them 1.3 spools due up to)", text) == [
        "12.5",
        "3.5",
    ]


def test_make_list_page_says_what_limits_the_list(shown: ShownPlant, logged_in: LogIn) -> None:
    assert "; the lines wait 12% of their time for dry resin" in logged_in("planner").get("/admin/make-list/").text


def test_make_list_page_shows_a_list_of_before_its_days_were_counted(shown: ShownPlant, logged_in: LogIn) -> None:
    MakeList.objects.update(misses_on_its_days=None, limit="")
    text = logged_in("planner").get("/admin/make-list/").text
    assert re.findall(r"<dd>([\d.]+) <small>spools not shipped", text) == ["12.5", "3.5"]


def test_make_list_page_explains_a_run_in_more_words(shown: ShownPlant, logged_in: LogIn) -> None:
    ListedRun.objects.filter(rank=1).update(explanation=[message("No other line than L1 can make it.")])
    assert "<li>No other line than L1 can make it.</li>" in logged_in("planner").get("/admin/make-list/").text


def test_make_list_page_says_what_to_buy_for_a_blocked_run(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/make-list/").text
    assert re.search(r"Ruby concentrate .*?<td class=\"num\">4.5 kg</td>", text, re.DOTALL)


def test_blocked_run_has_no_worth_of_nought(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/make-list/").text
    assert [re.findall(r"Misses avoided\">(.*?)</td>", card)[0] for card in text.split('id="rank-')[1:]] == [
        "9.0",
        "8.0",
        "–",
    ]


def test_release_of_a_run_takes_those_before_it_on_its_line_along(shown: ShownPlant, logged_in: LogIn) -> None:
    first, second = ListedRun.objects.filter(line__code="L1", is_blocked=False).order_by("place_on_line")
    client = logged_in("planner")
    cards = {run.pk: client.get("/admin/make-list/").text.split(f'id="rank-{run.rank}"')[1] for run in (first, second)}
    assert "Release<span" in cards[first.pk].split("</button>")[0]
    assert "Release 2 of L1<span" in cards[second.pk].split("</button>")[0]
    text = client.post(f"/admin/make-list/runs/{second.pk}/release/", follow=True).text
    assert "2 runs of line L1 are released, up to R" in text


def release_and_move(rank: int, *, by: timedelta) -> Run:
    """Release a listed run as the list has it, then plan it for later."""
    listed = ListedRun.objects.get(rank=rank)
    run = Run.objects.create(
        code=f"R-{rank}",
        filament=listed.filament,
        line=listed.line,
        planned_start=listed.start + by,
        planned_end=listed.end + by,
        released_at=timezone.now(),
        released_known_at=timezone.now(),
    )
    ListedRun.objects.filter(pk=listed.pk).update(run=run)
    return run


def test_released_run_that_was_moved_says_where_it_stands_now(shown: ShownPlant, logged_in: LogIn) -> None:
    run = release_and_move(1, by=timedelta(days=1))
    page = logged_in("planner").get("/admin/make-list/")
    card = page.text.split('id="rank-1"')[1].split("</tbody>")[0]
    with timezone.override(plant_zone()):
        stands = moment(run.planned_start)
    assert f"now L1, {stands}" in card
    assert [bar.number for line in page.context["bars"].lines for bar in line.bars if stands in bar.words] == [1]


def test_released_run_that_stands_as_listed_says_no_more_than_its_state(shown: ShownPlant, logged_in: LogIn) -> None:
    # The floor counts whole minutes: half a minute is no move.
    release_and_move(1, by=timedelta(seconds=30))
    card = logged_in("planner").get("/admin/make-list/").text.split('id="rank-1"')[1].split("</tbody>")[0]
    assert '<span class="tag">released</span>' in card
    assert "now L1" not in card


def test_make_list_page_says_why_a_filament_is_not_listed(shown: ShownPlant, logged_in: LogIn) -> None:
    assert "Free stock lasts for five more weeks." in logged_in("planner").get("/admin/make-list/").text


def test_make_list_page_states_assumptions(shown: ShownPlant, logged_in: LogIn) -> None:
    assert "Lines are available 90% of their shifts." in logged_in("planner").get("/admin/make-list/").text


def test_link_to_a_rank_opens_the_page_on_which_it_stands(shown: ShownPlant, logged_in: LogIn) -> None:
    ListedRun.objects.filter(rank=3).update(rank=51)
    ListedRun.objects.bulk_create(
        ListedRun(
            make_list=shown.make_list,
            rank=rank,
            filament=shown.ruby,
            is_blocked=True,
            misses_avoided=1,
            worth_per_hour=1,
            reason=message("-"),
        )
        for rank in range(3, 51)
    )
    planner = logged_in("planner")
    assert 'id="rank-50"' in planner.get("/admin/make-list/", {"rank": "50"}).text
    assert 'id="rank-51"' in planner.get("/admin/make-list/", {"rank": "51"}).text
    # Python refuses to read more than 4,300 digits as a number.
    assert 'id="rank-1"' in planner.get("/admin/make-list/", {"rank": "9" * 4_301}).text


def test_make_list_page_says_so_when_there_is_no_list(shown: ShownPlant, logged_in: LogIn) -> None:
    MakeList.objects.all().delete()
    assert "There is no make list yet." in logged_in("planner").get("/admin/make-list/").text


def test_release_of_a_listed_run_makes_a_run(shown: ShownPlant, logged_in: LogIn) -> None:
    listed = ListedRun.objects.get(rank=2)
    logged_in("planner").post(f"/admin/make-list/runs/{listed.pk}/release/")
    listed.refresh_from_db()
    assert listed.run is not None
    assert listed.run.filament == shown.tiny.black


def test_release_of_a_blocked_run_is_refused_with_a_sentence(shown: ShownPlant, logged_in: LogIn) -> None:
    listed = ListedRun.objects.get(rank=3)
    answer = logged_in("planner").post(f"/admin/make-list/runs/{listed.pk}/release/", follow=True)
    assert "The run was not released:" in answer.text
    assert not Run.objects.filter(filament=shown.ruby).exists()


def test_release_of_the_list_releases_every_run_that_has_its_materials(shown: ShownPlant, logged_in: LogIn) -> None:
    logged_in("planner").post(f"/admin/make-list/{shown.make_list.pk}/release/")
    shown.make_list.refresh_from_db()
    assert shown.make_list.state == MakeList.State.RELEASED
    assert sorted(ListedRun.objects.filter(run__isnull=False).values_list("rank", flat=True)) == [1, 2]


def test_owner_may_release_but_sales_may_not(shown: ShownPlant, logged_in: LogIn) -> None:
    path = f"/admin/make-list/{shown.make_list.pk}/release/"
    assert logged_in("sales").post(path).status_code == 403
    assert logged_in("owner").post(path).status_code == 302


def test_pin_is_stored_with_its_line_and_last_day(shown: ShownPlant, logged_in: LogIn) -> None:
    last_day = timezone.localdate() + timedelta(days=9)
    logged_in("planner").post(
        "/admin/filaments/PLA-SAND-1.75/pin/",
        {"pin-line": "L1", "pin-last_day": last_day.isoformat(), "pin-note": "fair"},
    )
    pin = PlannerInstruction.objects.get()
    assert (pin.kind, pin.filament, pin.line, pin.last_day, pin.note) == (
        "pin",
        shown.sand,
        shown.tiny.line,
        last_day,
        "fair",
    )


def test_forbid_is_stored(shown: ShownPlant, logged_in: LogIn) -> None:
    logged_in("planner").post("/admin/filaments/PLA-SAND-1.75/forbid/", {})
    assert PlannerInstruction.objects.get().kind == "forbid"


def test_resize_is_stored_with_its_spools(shown: ShownPlant, logged_in: LogIn) -> None:
    given = {"resize-sku": "PLA-SAND-1000", "resize-spools": "7"}
    logged_in("planner").post("/admin/filaments/PLA-SAND-1.75/resize/", given)
    resize = PlannerInstruction.objects.get()
    assert (resize.kind, resize.sku.item.code, resize.spools) == ("resize", "PLA-SAND-1000", 7)


def test_resize_without_spools_is_refused_beside_the_field(shown: ShownPlant, logged_in: LogIn) -> None:
    answer = logged_in("planner").post("/admin/filaments/PLA-SAND-1.75/resize/", {"resize-sku": "PLA-SAND-1000"})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert not PlannerInstruction.objects.exists()


def test_second_pin_of_a_filament_is_refused_with_a_sentence(shown: ShownPlant, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    planner.post("/admin/filaments/PLA-SAND-1.75/pin/", {})
    answer = planner.post("/admin/filaments/PLA-SAND-1.75/forbid/", {})
    assert answer.status_code == 422
    assert PlannerInstruction.objects.count() == 1


def test_withdrawn_instruction_is_no_longer_in_force(shown: ShownPlant, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    planner.post("/admin/filaments/PLA-SAND-1.75/pin/", {})
    planner.post(f"/admin/instructions/{PlannerInstruction.objects.get().pk}/withdraw/")
    assert planner.get("/admin/make-list/").context["instructions"] == []


def test_list_without_a_run_on_a_line_is_not_offered_for_release(shown: ShownPlant, logged_in: LogIn) -> None:
    page = "/admin/make-list/"
    client = logged_in("planner")
    assert "Release the whole list" in client.get(page).text
    ListedRun.objects.filter(is_blocked=False).delete()
    text = client.get(page).text
    assert "Release the whole list" not in text
    # The released run of the plant is on no list any more, and stays on the floor.
    assert "1 run is released or under way: no new list ranks it again" in text
