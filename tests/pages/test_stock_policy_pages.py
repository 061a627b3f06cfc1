"""The owner's one number, and which SKUs deserve their shelf."""

from __future__ import annotations

import csv
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.contrib.admin.models import LogEntry
from django.test import Client
from django.utils import timezone

from inventory.models import PlantParameters, Sku
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.services.orders import place_order
from stockplan.planner.models import ShelfAdvice
from tests.inventory.builders import TinyPlant, build_tiny_plant, planner_names_no_day
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
TARGET, WORTH = "/admin/owner/order-target/", "/admin/owner/shelf-worth/"


@pytest.fixture
def selling(db: None) -> TinyPlant:
    """A plant that was asked for a pair of spools on each of the last 42 days."""
    plant = build_tiny_plant()
    for n in range(42):
        lines = [("PLA-BLACK-1000", 1 + n % 3), ("PLA-BLACK-250", 1)]
        draft = OrderDraft(channel_code="WEB", reference=f"DAY-{n}", lines=lines, wanted_day=None)
        with planner_names_no_day():
            place_order(body=draft, clock=Clock.at(timezone.now() - timedelta(days=42 - n, hours=1)))
    return plant


def test_owner_asks_what_a_share_costs_and_then_sets_it(selling: TinyPlant, logged_in: LogIn) -> None:
    owner = logged_in("owner")
    assert "to the same share of cycles without an empty shelf" in owner.get(TARGET).text
    answer = owner.post(f"{TARGET}try/", {"percent": "95"})
    advice = answer.context["advice"]
    assert advice.verified.simulated.orders >= 20_000
    assert 0.95 <= advice.verified.simulated.share <= 0.97
    assert f"{advice.verified.target.stock_value:,.0f} EUR" in answer.text
    assert PlantParameters.objects.get().order_target_share is None
    assert owner.post(f"{TARGET}set/", {"percent": "95"}).status_code == 302
    assert PlantParameters.objects.get().order_target_share == Decimal("0.95")
    assert "95.0% of the orders ship complete" in owner.get(TARGET).text
    (entry,) = LogEntry.objects.all()
    assert (entry.user.username, entry.get_change_message()) == ("owner-person", "Changed order target share.")


def test_owner_goes_back_to_one_share_for_every_sku(shown: ShownPlant, logged_in: LogIn) -> None:
    PlantParameters.objects.update(order_target_share="0.95")
    assert logged_in("owner").post(f"{TARGET}set/", {}).status_code == 302
    assert PlantParameters.objects.get().order_target_share is None


@pytest.mark.parametrize("step", ["try", "set"])
@pytest.mark.parametrize(
    ("percent", "words"),
    [
        ("0", "greater than or equal to 1"),
        ("101", "less than or equal to 100"),
        ("many", "Enter a number."),
        ("100", "above 0 and below 1"),
    ],
)
def test_share_that_is_none_is_refused(
    shown: ShownPlant, logged_in: LogIn, step: str, percent: str, words: str
) -> None:
    answer = logged_in("owner").post(f"{TARGET}{step}/", {"percent": percent})
    assert (answer.status_code, words in answer.text) == (422, True)
    assert PlantParameters.objects.get().order_target_share is None


def test_share_without_orders_in_the_books_is_refused(db: None, logged_in: LogIn) -> None:
    build_tiny_plant()
    answer = logged_in("owner").post(f"{TARGET}try/", {"percent": "95"})
    assert (answer.status_code, "No recent order" in answer.text) == (422, True)


def test_worth_shows_each_sku_and_what_is_kept_otherwise(shown: ShownPlant, logged_in: LogIn) -> None:
    owner = logged_in("owner")
    every = owner.get(WORTH)
    assert [row.sku for row in every.context["found"]] == ["PLA-RUBY-1000", "PETG-NAT-1000", "PLA-BLACK-1000"]
    for words in ("All 3 SKUs", "2 kept otherwise now", ">-150<", ">84<", ">never<"):
        assert words in every.text
    changes = owner.get(WORTH, {"show": "changes"})
    assert [row.sku for row in changes.context["found"]] == ["PLA-RUBY-1000", "PETG-NAT-1000"]


def test_worth_is_computed_by_a_button_and_kept(selling: TinyPlant, logged_in: LogIn) -> None:
    owner = logged_in("owner")
    assert "was not computed yet" in owner.get(WORTH).text
    assert owner.post(f"{WORTH}advise/").status_code == 302
    rows = list(csv.DictReader(StringIO(owner.get("/admin/tables/shelf-worth.csv").text)))
    assert len(rows) == Sku.objects.count() == len(ShelfAdvice.objects.get().rows)
    (black,) = [row for row in rows if row["sku"] == "PLA-BLACK-1000"]
    earns = float(black["runs_saved_cost_per_year"]) - float(black["holding_cost_per_year"])
    assert float(black["earns_per_year"]) == pytest.approx(earns, abs=0.02)


@pytest.mark.parametrize("role", ["sales", "planner", "floor"])
def test_only_the_owner_decides_on_stock(shown: ShownPlant, logged_in: LogIn, role: str) -> None:
    client = logged_in(role)
    assert {client.get(path).status_code for path in (TARGET, WORTH)} == {403}
    steps = (f"{TARGET}try/", f"{TARGET}set/", f"{WORTH}advise/")
    assert {client.post(path, {"percent": "90"}).status_code for path in steps} == {403}
