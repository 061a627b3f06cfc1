"""One week of the small plant, driven day by day over the API alone with the scope `replay`.

What is checked are the laws of the books and facts of the calendar by hand; how good the lists are is a matter of the
planner's own tests.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import transaction
from rest_framework.test import APIClient

from inventory.plant_files.load import load_plant
from inventory.selectors.check import check_books
from stockplan.access.models import Scope
from stockplan.access.tokens import create_token
from tests.api.calls import get, post
from tests.inventory.plant_dir import write_small_plant

STONE, SNOW, SNOW_250 = "PLA-STONE-175-1000", "PLA-SNOW-175-1000", "PLA-SNOW-175-250"
MONDAY = date(2027, 3, 1)
DAYS = [MONDAY + timedelta(days=number) for number in range(5)]


def at(day, hour, minute=0):
    """An instant of the day on the plant's clock; Berlin is an hour ahead of UTC in the first week of March."""
    return (datetime(day.year, day.month, day.day, hour, minute, tzinfo=UTC) - timedelta(hours=1)).isoformat()


def place_orders(client, day):
    """Five orders: four in the morning, one after the cut-off at 13:40. The day of the week sets the sizes."""
    size = 1 + day.weekday()
    baskets = [{STONE: size}, {SNOW: 1}, {STONE: 1, SNOW: size}, {SNOW_250: 2}, {STONE: 2}]
    hours = [(8, 30), (9, 0), (10, 15), (11, 45), (13, 40)]
    for number, (basket, (hour, minute)) in enumerate(zip(baskets, hours, strict=True)):
        lines = [{"sku": sku, "quantity": quantity} for sku, quantity in basket.items()]
        body = {"channel": "SHOP", "reference": f"W-{day:%d}-{number}", "received_at": at(day, hour, minute)}
        post(client, "/orders/", **body, lines=lines, may_part_ship=number == 2)


def plan(client, day):
    """Compute a list as of the morning and release it; withdraw what was released before and has not started."""
    now = at(day, 7)
    for run in get(client, "/runs/", state="released", as_of=now)["results"]:
        post(client, f"/runs/{run['run']}/cancel/", 200, occurred_at=now)
    made = post(client, "/make-lists/", as_of=now, days=5)
    assert get(client, "/make-lists/latest/", as_of=now)["id"] == made["id"]
    post(client, f"/make-lists/{made['id']}/release/", 200, occurred_at=now)


def make(client, day):
    """Start and finish the runs that are planned for the day, one after the other, as planned."""
    runs = get(client, "/runs/", state="released", as_of=at(day, 7))["results"]
    todays = sorted(
        (run for run in runs if run["planned_end"][:10] == day.isoformat()), key=lambda run: run["planned_start"]
    )
    for run in todays:
        spools = {row["sku"]: row["planned"] for row in run["outputs"]}
        post(client, f"/runs/{run['run']}/start/", 200, occurred_at=run["planned_start"])
        report = {"good": spools, "real_minutes": 60, "purge_kg": run["planned_purge_kg"]}
        post(client, f"/runs/{run['run']}/finish/", 200, occurred_at=run["planned_end"], **report)
    rows = [
        {"source": run["run"], "sku": row["sku"], "quantity": row["planned"]}
        for run in todays
        for row in run["outputs"]
    ]
    if rows:
        post(client, "/oven-loads/", oven="OVEN-1", spools=rows, occurred_at=at(day, 21))
    return rows


def ship(client, day):
    """Ship before the pick-up at 16:00 what the open orders that are due hold of the shelf, and may leave."""
    now = at(day, 15)
    for order in get(client, "/orders/", state="open", due_to=day.isoformat(), as_of=now)["results"]:
        held = {line["line_no"]: line["from_shelf"] for line in order["lines"]}
        wanted = {line["line_no"]: line["quantity"] - line["shipped"] for line in order["lines"]}
        if held == wanted or (order["may_part_ship"] and any(held.values())):
            post(client, "/shipments/", order=order["id"], occurred_at=now)


@pytest.fixture(scope="module")
def past_week(django_db_setup, django_db_blocker, tmp_path_factory):
    """The week as it went: the client, after the last day. Gone through once; the tests only read it."""
    folder = write_small_plant(tmp_path_factory.mktemp("week") / "plant")
    with django_db_blocker.unblock(), transaction.atomic():
        load_plant(folder, as_of=datetime(2027, 2, 28, 12, tzinfo=UTC))
        token = create_token(name="test", scopes=Scope.values, channel_code=None, days=1)
        client = APIClient(headers={"authorization": f"Bearer {token}"})
        in_oven = []
        for day in DAYS:
            if in_oven:
                post(client, "/pack/", spools=in_oven, occurred_at=at(day, 6, 30))
            plan(client, day)
            place_orders(client, day)
            ship(client, day)
            in_oven = make(client, day)
        yield client
        transaction.set_rollback(True)


@pytest.fixture
def week(past_week, db):
    return past_week


def test_books_are_clean_after_a_week_over_the_api(week):
    assert check_books() == []


def test_week_over_the_api_makes_packs_and_ships(week):
    end = at(DAYS[-1], 23)
    finished = get(week, "/runs/", state="finished", as_of=end)["results"]
    shipped = get(week, "/orders/", state="shipped", reference="W-01-0", as_of=end)["results"]
    assert sum(output["good"] for run in finished for output in run["outputs"]) > 0
    # Twenty spools of stone lay there on Monday morning and ten were promised: one more is no question.
    assert [line["shipped_complete_day"] for line in shipped[0]["lines"]] == [MONDAY.isoformat()]


def test_order_at_the_cut_off_is_due_the_next_ship_day_all_week(week):
    orders = [get(week, "/orders/", reference=f"W-{day:%d}-4")["results"][0] for day in DAYS]
    # Friday's is due on the Monday after.
    assert [order["due_day"] for order in orders] == [
        day.isoformat() for day in (*DAYS[1:], DAYS[-1] + timedelta(days=3))
    ]


def test_every_order_stands_with_every_spool_accounted_for(week):
    orders = get(week, "/orders/", limit=500)["results"]
    lines = [line for order in orders if order["reference"].startswith("W-") for line in order["lines"]]
    assert len(lines) == 30  # five orders a day, one of two lines
    accounted = [
        line["shipped"] + line["from_shelf"] + sum(row["quantity"] for row in line["from_supply"]) + line["unpromised"]
        for line in lines
    ]
    assert accounted == [line["quantity"] for line in lines]


def test_service_report_of_the_week_agrees_with_its_own_orders(week):
    now = at(DAYS[-1], 23)
    report = get(week, "/service/", first=MONDAY.isoformat(), last=DAYS[-1].isoformat(), as_of=now)
    orders = get(week, "/orders/", due_from=MONDAY.isoformat(), due_to=DAYS[-1].isoformat(), as_of=now)["results"]
    stocked = [line for order in orders for line in order["lines"] if line["sku"] != SNOW_250]
    due_days = {(order["id"], line["line_no"]): order["due_day"] for order in orders for line in order["lines"]}
    in_time = [
        line
        for order in orders
        for line in order["lines"]
        if line["sku"] != SNOW_250
        and line["shipped_complete_day"] is not None
        and line["shipped_complete_day"] <= due_days[order["id"], line["line_no"]]
    ]
    counted = report["stocked"]["lines"]
    assert (counted["complete"], counted["due"]) == (len(in_time), len(stocked))
    assert len([miss for miss in report["misses"] if not miss["is_made_to_order"]]) == len(stocked) - len(in_time)


def test_morning_is_read_later_as_it_was_known_then(week):
    monday = get(week, "/stock/", sku=STONE, as_of=at(MONDAY, 7, 30))["results"][0]
    # Opening stock, less nothing: no parcel had left yet.
    assert monday["on_shelf"] == 20
