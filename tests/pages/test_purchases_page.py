"""What to buy, by the day until which to buy it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from stockplan.planner.core.purchasing import Purchase
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import ListedRun, PurchaseAdvice
from stockplan.planner.pages import purchases
from stockplan.planner.selectors.make_lists import plant_zone
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]


def purchase(item: str, buy_by: date, *, late_days: int = 0) -> Purchase:
    return Purchase(
        item=item,
        name=f"Item {item}",
        unit="kg",
        quantity=1500.0,
        packs=3,
        on_hand=12.5,
        expected_need=900.0,
        runs_out_on=date(2027, 3, 12),
        buy_by=buy_by,
        late_days=late_days,
    )


@pytest.fixture
def advised(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three purchases of two days, in the order of their urgency, as the planner would give them."""
    rows = (
        purchase("RESIN-B", date(2027, 3, 3)),
        purchase("RESIN-A", date(2027, 3, 1), late_days=2),
        purchase("BOX", date(2027, 3, 3)),
    )
    monkeypatch.setattr(purchases, "advise_purchases", lambda **_: rows)


def test_purchases_stand_by_the_day_until_which_to_buy(shown: ShownPlant, logged_in: LogIn, advised: None) -> None:
    days = logged_in("planner").post("/admin/purchases/advise/").context["advice"].days
    assert [(day, [row.item for row in rows]) for day, rows in days] == [
        (date(2027, 3, 1), ["RESIN-A"]),
        (date(2027, 3, 3), ["BOX", "RESIN-B"]),
    ]


def test_purchase_says_how_much_and_that_it_comes_too_late(shown: ShownPlant, logged_in: LogIn, advised: None) -> None:
    text = logged_in("planner").post("/admin/purchases/advise/").text
    assert "Buy by Mon 1 Mar" in text
    assert "1,500 kg" in text
    assert "3 packs" in text
    assert "comes 2 days too late" in text


def test_stored_advice_stands_on_the_page_with_its_time(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/purchases/").text
    assert [words in text for words in ("As the books stood on", "Item RESIN-PLA", "300 pieces")] == [True] * 3


def test_owner_sees_what_to_buy_by_day_with_the_time_of_the_advice(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("owner").get("/admin/owner/").text.split('id="purchases"')[1].split('id="waiting"')[0]
    assert text.index("RESIN-PLA") < text.index("BOX-1")
    at = f"{PurchaseAdvice.objects.get().computed_at.astimezone(plant_zone()):%H:%M}"
    assert [words in text for words in (at, "1,500 kg", "comes 2 days too late")] == [True] * 3


def test_owner_sees_the_first_purchases_of_many_and_how_many_there_are(shown: ShownPlant, logged_in: LogIn) -> None:
    kept = PurchaseAdvice.objects.get()
    kept.rows = [kept.rows[0] | {"item": f"RESIN-{number:02d}"} for number in range(50)]
    kept.save()
    text = logged_in("owner").get("/admin/owner/").text
    assert ["RESIN-39" in text, "RESIN-40" in text, "The first 40 of 50." in text] == [True, False, True]


def test_owner_is_told_that_nothing_was_computed_yet(shown: ShownPlant, logged_in: LogIn) -> None:
    PurchaseAdvice.objects.all().delete()
    assert "What to buy was not computed yet" in logged_in("owner").get("/admin/owner/").text


def test_nothing_to_buy_is_said(shown: ShownPlant, logged_in: LogIn, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(purchases, "advise_purchases", lambda **_: ())
    assert "Nothing has to be bought" in logged_in("planner").post("/admin/purchases/advise/").text


def test_fault_of_the_planner_is_told(shown: ShownPlant, logged_in: LogIn, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(**_: object) -> tuple[Purchase, ...]:
        raise PlanningError("There is no line.")

    monkeypatch.setattr(purchases, "advise_purchases", fail)
    answer = logged_in("planner").post("/admin/purchases/advise/")
    assert answer.status_code == 422
    assert "Nothing was computed: There is no line." in answer.text


def test_real_advice_answers_on_the_page(shown: ShownPlant, logged_in: LogIn) -> None:
    kept = PurchaseAdvice.objects.get()
    assert logged_in("planner").post("/admin/purchases/advise/").status_code == 200
    assert PurchaseAdvice.objects.latest("computed_at") != kept


@pytest.mark.parametrize("role", ["sales", "floor"])
def test_who_does_not_plan_computes_nothing(shown: ShownPlant, logged_in: LogIn, role: str) -> None:
    assert logged_in(role).post("/admin/purchases/advise/").status_code == 403


def test_page_of_blocked_runs_says_so_where_none_is(shown: ShownPlant, logged_in: LogIn) -> None:
    ListedRun.objects.filter(is_blocked=True).delete()
    text = logged_in("planner").get("/admin/make-list/to-buy/").text
    assert "Nothing: no run is blocked." in text
    assert "For the run" not in text
