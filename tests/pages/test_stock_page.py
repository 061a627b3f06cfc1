"""The stock page as sales reads it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client

from inventory.models import Item, LineSpeed
from inventory.services.ledger import ensure_places
from tests.inventory.builders import TinyPlant, build_tiny_plant, put_in_store
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def tiny(db: None) -> TinyPlant:
    return build_tiny_plant()


def test_stock_page_finds_a_sku_by_words_in_any_order(shown: ShownPlant, logged_in: LogIn) -> None:
    rows = logged_in("sales").get("/admin/stock/", {"q": "s1000 black"}).context["rows"]
    assert [row.sku_code for row in rows] == ["PLA-BLACK-1000"]


def test_stock_page_finds_a_sku_by_its_gtin(shown: ShownPlant, logged_in: LogIn) -> None:
    rows = logged_in("sales").get("/admin/stock/", {"q": shown.ruby_1kg.gtin}).context["rows"]
    assert [row.sku_code for row in rows] == ["PLA-RUBY-1000"]


def test_stock_page_says_so_when_nothing_is_found(shown: ShownPlant, logged_in: LogIn) -> None:
    assert "No SKU answers to “chartreuse”" in logged_in("sales").get("/admin/stock/", {"q": "chartreuse"}).text


def test_stock_page_says_that_it_shows_what_is_spelled_nearly_so(shown: ShownPlant, logged_in: LogIn) -> None:
    said = "Nothing is spelled like that; shown is what comes near."
    sales = logged_in("sales")
    misspelled = sales.get("/admin/stock/", {"q": "blakc"})
    assert {row.sku_code for row in misspelled.context["rows"]} == {"PLA-BLACK-1000", "PLA-BLACK-250"}
    assert said in misspelled.text
    assert said not in sales.get("/admin/stock/", {"q": "black"}).text
    assert said not in sales.get("/admin/stock/").text


def test_stock_page_escapes_what_was_searched(shown: ShownPlant, logged_in: LogIn) -> None:
    assert "<script>alert" not in logged_in("sales").get("/admin/stock/", {"q": "<script>alert(1)</script>"}).text


@pytest.mark.parametrize(
    ("instant", "said"),
    [
        ("2027-03-01 13:39:59", "Mon 1 Mar 13:40"),
        ("2027-03-01 13:40:00", "Tue 2 Mar 13:40"),
        ("2027-03-05 13:40:00", "Mon 8 Mar 13:40"),
    ],
    ids=["a second before", "exactly at the cut-off is late", "Friday's cut-off leads to Monday"],
)
def test_stock_page_states_the_next_cut_off(tiny: TinyPlant, logged_in: LogIn, instant: str, said: str) -> None:
    with time_machine.travel(datetime.fromisoformat(instant).replace(tzinfo=BERLIN), tick=False):
        text = logged_in("sales").get("/admin/stock/").text
    assert f"Cut-off: {said}," in text


def test_stock_page_counts_down_from_the_servers_clock(tiny: TinyPlant, logged_in: LogIn) -> None:
    with time_machine.travel(datetime(2027, 3, 1, 13, 30, tzinfo=BERLIN), tick=False):
        text = logged_in("sales").get("/admin/stock/").text
    # 13:30 and 13:40 in Berlin on 1 March (UTC+1) as seconds since 1970, by `date -u -d ... +%s`.
    assert 'data-now="1803904200" data-until="1803904800"' in text


def test_stock_page_gives_the_earliest_day_of_a_run_where_nothing_is_planned(tiny: TinyPlant, logged_in: LogIn) -> None:
    ensure_places()
    for item in Item.objects.exclude(kind="sku"):
        put_in_store(item, "5000", lot_code=f"FULL-{item.code}")
    # Monday 10:00: resin is dry after 4 h, one spool is wound well before the oven at 17:00 and shelved on Tuesday.
    with time_machine.travel(datetime(2027, 3, 1, 10, 0, tzinfo=BERLIN), tick=False):
        text = logged_in("sales").get("/admin/stock/", {"q": "PLA-BLACK-1000", "earliest": "yes"}).text
    assert 'a run could be here for <span class="nowrap">Tue 2 Mar</span> at the earliest' in text


def test_stock_page_says_so_where_no_line_can_make_it(tiny: TinyPlant, logged_in: LogIn) -> None:
    LineSpeed.objects.filter(filament=tiny.black).delete()
    with time_machine.travel(datetime(2027, 3, 1, 10, 0, tzinfo=BERLIN), tick=False):
        text = logged_in("sales").get("/admin/stock/", {"q": "PLA-BLACK-1000", "earliest": "yes"}).text
    assert "no line, time or material for it in the next 20 ship days" in text


def test_stock_page_changes_nothing(shown: ShownPlant, logged_in: LogIn) -> None:
    assert logged_in("sales").post("/admin/stock/").status_code == 405
