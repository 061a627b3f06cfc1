"""The coming days of the lines as a picture. By hand: 920 units from left edge 70 to the end of the last run."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from stockplan.planner.pages.time_bars import time_bars
from stockplan.planner.selectors.list_pages import BarRun
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
BERLIN = ZoneInfo("Europe/Berlin")
EVENING = datetime(2027, 3, 1, 14, tzinfo=BERLIN)


def run(line: str, *, number: int, start_h: float, hours: float, changeover_min: float = 0) -> BarRun:
    start = EVENING + timedelta(hours=start_h)
    return BarRun(line, number, f"F{number}", "#123456", start, start + timedelta(hours=hours), changeover_min)


def test_runs_lie_on_one_scale_after_their_changeovers() -> None:
    # Twenty hours in all: 46 units an hour.
    with timezone.override(BERLIN):
        found = time_bars(
            [run("L1", number=2, start_h=0, hours=10, changeover_min=60), run("L2", number=1, start_h=5, hours=15)]
        )
    first, second = found.lines
    assert [(bar.x, bar.change, bar.width, bar.number) for bar in first.bars] == [(70.0, 46.0, 414.0, 2)]
    assert [(bar.x, bar.change, bar.width) for bar in second.bars] == [(300.0, 0.0, 690.0)]
    assert (first.code, second.code, second.y - first.y) == ("L1", "L2", 34)
    # Midnight is ten hours after 14:00.
    assert found.midnights == ((530.0, "Tue 2 Mar"),)


def test_run_without_room_carries_no_rank() -> None:
    found = time_bars([run("L1", number=1, start_h=0, hours=99), run("L1", number=2, start_h=99, hours=1)])
    assert [bar.middle is None for bar in found.lines[0].bars] == [False, True]


def test_runs_after_five_days_are_left_to_the_list() -> None:
    found = time_bars([run("L1", number=1, start_h=0, hours=1), run("L2", number=2, start_h=120, hours=1)])
    assert [line.code for line in found.lines] == ["L1"]


def test_days_without_room_for_their_names_are_skipped() -> None:
    # 24 days on 920 units: 38 units a day, room for every third.
    with timezone.override(BERLIN):
        found = time_bars([run("L1", number=1, start_h=0, hours=24 * 24)])
    assert [words for _, words in found.midnights][:2] == ["Tue 2 Mar", "Fri 5 Mar"]


def test_no_runs_make_no_picture() -> None:
    assert time_bars([]) is None


@pytest.mark.parametrize("words", ["1. PETG-NATURAL-1.75, ", "2. PLA-BLACK-1.75, "])
def test_make_list_page_draws_its_runs_and_names_them(shown: ShownPlant, logged_in: LogIn, words: str) -> None:
    text = logged_in("planner").get("/admin/make-list/").text
    assert f"<title>{words}" in text
    assert 'aria-label="What each line does from ' in text
