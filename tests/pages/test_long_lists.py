"""Lists that are longer than one reads: each page begins them and leads to the rest."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from forecasting.messages import message
from inventory.models import Filament, Line
from stockplan.planner.models import ListedRun, MakeList, NotListed
from stockplan.planner.pages.due import ORDERS_PER_PAGE
from stockplan.planner.pages.make_list import ROWS_BEGUN
from stockplan.planner.pages.run_order import RUNS_BEGUN_PER_LINE
from stockplan.planner.pages.week import MOST_RUNS_UNASKED
from tests.pages.shown_plant import ShownPlant, add_filament, place_due_order

LogIn = Callable[[str], Client]
MANY = 40
TUESDAY = datetime(2027, 3, 2, 10, tzinfo=UTC)
WEEK = "/admin/make-list/week/?week=2027-W09"


@pytest.fixture
def long(shown: ShownPlant) -> MakeList:
    """Forty filaments more that the list leaves out for want of time, forty blocked runs, seventy placed ones on L2."""
    filaments = [add_filament(shown.tiny, f"M{n:02}", name=f"M{n:02}", colour_hex="#123456") for n in range(MANY)]
    NotListed.objects.bulk_create(
        NotListed(
            make_list=shown.make_list, filament=one, cause="no_room", sentence=message("No room {it}.", it=one.code)
        )
        for one in filaments
    )
    blocked = [_run(shown.make_list, one, rank=100 + n, is_blocked=True) for n, one in enumerate(filaments)]
    second = Line.objects.create(code="L2", name="Second", extruder_kg_h=9, start_up_min=15, scrap_share="0.02")
    placed = [_placed(shown.make_list, filaments[n % MANY], number=n, line=second) for n in range(MOST_RUNS_UNASKED)]
    ListedRun.objects.bulk_create(blocked + placed)
    return shown.make_list


def _run(make_list: MakeList, filament: Filament, *, rank: int, **more: object) -> ListedRun:
    missing = [{"item": "MB-X", "name": "Concentrate X", "quantity": 1, "unit": "kg", "buy_by": "2027-03-01"}]
    fields = {"misses_avoided": 1, "worth_per_hour": 1, "reason": message("-"), "missing": missing}
    return ListedRun(make_list=make_list, filament=filament, rank=rank, **fields, **more)


def _placed(make_list: MakeList, filament: Filament, *, number: int, line: Line) -> ListedRun:
    start = TUESDAY + timedelta(minutes=number)
    times = {"start": start, "end": start + timedelta(minutes=1)}
    return _run(make_list, filament, rank=200 + number, line=line, place_on_line=number + 1, **times)


def test_make_list_page_begins_what_is_left_out_and_leads_to_all_of_it(long: MakeList, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    text = planner.get("/admin/make-list/").text
    assert text.count("No room PLA-M") == ROWS_BEGUN
    assert '<a href="/admin/make-list/left-out/?cause=no_room">All 40: no line time left</a>' in text
    assert planner.get("/admin/make-list/left-out/", {"cause": "no_room"}).text.count("No room PLA-M") == MANY


def test_make_list_page_begins_what_to_buy_and_leads_to_all_of_it(long: MakeList, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    # One more is blocked in the shown plant.
    assert ">All 41 blocked runs</a>" in planner.get("/admin/make-list/").text
    pages = [planner.get("/admin/make-list/to-buy/", {"page": number}).text for number in (1, 2)]
    assert [text.count("Concentrate X") for text in pages] == [29, 11]


def test_by_line_page_begins_each_line_and_leads_to_its_runs(long: MakeList, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    first = planner.get("/admin/make-list/lines/").context
    assert [(line, len(runs)) for line, runs in first["lines"]] == [("L1", 3), ("L2", RUNS_BEGUN_PER_LINE)]
    assert first["counts"] == [("L1", 3), ("L2", MOST_RUNS_UNASKED)]
    of_line = planner.get("/admin/make-list/lines/", {"line": "L2", "page": 2}).context["lines"]
    assert [row.run.place for _, rows in of_line for row in rows] == list(range(31, MOST_RUNS_UNASKED + 1))


def test_by_line_page_begins_fewer_runs_of_each_where_there_are_many_lines(
    long: MakeList, logged_in: LogIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six of each of twenty lines were 237 kB."""
    monkeypatch.setattr("stockplan.planner.pages.run_order.RUNS_BEGUN", 4)
    first = logged_in("planner").get("/admin/make-list/lines/").context
    assert [(line, len(runs)) for line, runs in first["lines"]] == [("L1", 2), ("L2", 2)]


def test_week_page_shows_one_sheet_of_a_long_week_and_all_when_asked(long: MakeList, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    ListedRun.objects.filter(line__code="L1").update(start=TUESDAY)
    assert [line for line, _ in planner.get(WEEK).context["found"].lines] == ["L1"]
    assert [line for line, _ in planner.get(f"{WEEK}&line=L2").context["found"].lines] == ["L2"]
    assert [line for line, _ in planner.get(f"{WEEK}&line=all").context["found"].lines] == ["L1", "L2"]


@pytest.mark.parametrize("part", ["left-out", "changed", "to-buy"])
def test_part_of_no_list_leads_to_the_page_that_says_so(shown: ShownPlant, logged_in: LogIn, part: str) -> None:
    MakeList.objects.all().delete()
    answer = logged_in("planner").get(f"/admin/make-list/{part}/", follow=True)
    assert "There is no make list yet." in answer.text


def test_pages_of_one_table_leave_the_others_where_they_are(shown: ShownPlant, logged_in: LogIn) -> None:
    for number in range(ORDERS_PER_PAGE + 1):
        place_due_order([("PLA-RUBY-1000", 1)], reference=f"WAITS-{number}", now=timezone.now())
    text = logged_in("floor").get("/admin/due/", {"page": "1"}).text
    assert 'href="?page=1&amp;waiting=2#stuck"' in text
