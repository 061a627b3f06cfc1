"""A plan that moved, read as it was known before. Days by hand: wound by noon, dried overnight, packed next morning."""

from __future__ import annotations

import pytest

from inventory.services.runs import resize_run
from tests.api.calls import get, order, post
from tests.api.floor.reports import BLACK, START, finish, load
from tests.inventory.builders import clock

BEFORE, AFTER = "2027-03-01T07:30:00+01:00", "2027-03-01T07:50:00+01:00"
WEDNESDAY = {"planned_start": "2027-03-03T08:00:00+01:00", "planned_end": "2027-03-03T12:00:00+01:00"}


@pytest.fixture
def moved(replay, run):
    """The run is moved from Monday to Wednesday at 07:45; an order waits for it since 07:15. Returns the order's id."""
    placed = order(replay, "A-1", at="2027-03-01T07:15:00+01:00")
    post(replay, f"/runs/{run}/reschedule/", 200, occurred_at="2027-03-01T07:45:00+01:00", **WEDNESDAY)
    return placed["id"]


@pytest.mark.parametrize(
    ("as_of", "start", "end", "shelf_day"),
    [
        (BEFORE, "2027-03-01T07:00:00Z", "2027-03-01T11:00:00Z", "2027-03-02"),
        (AFTER, "2027-03-03T07:00:00Z", "2027-03-03T11:00:00Z", "2027-03-04"),
    ],
)
def test_run_is_read_with_the_plan_known_then(replay, run, moved, as_of, start, end, shelf_day):
    one = get(replay, f"/runs/{run}/", as_of=as_of)
    assert (one["planned_start"], one["planned_end"], one["outputs"][0]["shelf_day"]) == (start, end, shelf_day)
    assert get(replay, "/runs/", as_of=as_of)["results"] == [one]


@pytest.mark.parametrize(("as_of", "ship_day"), [(BEFORE, "2027-03-02"), (AFTER, "2027-03-04")])
def test_stock_is_read_with_the_arrivals_known_then(replay, moved, as_of, ship_day):
    row = get(replay, "/stock/", sku=BLACK, as_of=as_of)["results"][0]
    assert row["pipeline"] == [{"ship_day": ship_day, "quantity": 10, "free": 7}]


@pytest.mark.parametrize(("as_of", "ship_day"), [(BEFORE, "2027-03-02"), (AFTER, "2027-03-04")])
def test_order_is_read_with_the_supply_known_then(replay, moved, as_of, ship_day):
    line = get(replay, f"/orders/{moved}/", as_of=as_of)["lines"][0]
    assert ([part["ship_day"] for part in line["from_supply"]], line["promised_day"]) == ([ship_day], ship_day)


def test_run_is_read_with_the_spools_planned_then(replay, run):
    resize_run(run_code=run, spools={BLACK: 6, "PLA-BLACK-250": 4}, clock=clock("2027-03-01 07:45"))
    seen = [get(replay, f"/runs/{run}/", as_of=as_of)["outputs"] for as_of in (BEFORE, AFTER)]
    assert [{row["sku"]: (row["planned"], row["awaited"]) for row in rows} for rows in seen] == [
        {BLACK: (10, 10)},
        {BLACK: (6, 6), "PLA-BLACK-250": (4, 4)},
    ]
    assert get(replay, "/stock/", sku=BLACK, as_of=BEFORE)["results"][0]["pipeline"][0]["quantity"] == 10


def test_run_is_read_with_the_drying_known_then(replay, run):
    post(replay, f"/runs/{run}/start/", 200, occurred_at=START, drying_from="2027-03-01T03:00:00+01:00")
    seen = [get(replay, f"/runs/{run}/", as_of=as_of)["drying_from"] for as_of in (BEFORE, START)]
    assert seen == [None, "2027-03-01T02:00:00Z"]


def test_wound_spools_are_expected_as_was_known_before_they_were_loaded(replay, run):
    # Loaded a day late, on Tuesday at 17:00: packed on Wednesday instead of Tuesday.
    finish(replay, run)
    load(replay, run, occurred_at="2027-03-02T17:00:00+01:00")
    instants = ("2027-03-01T13:00:00+01:00", "2027-03-02T17:00:00+01:00")
    days = [get(replay, f"/runs/{run}/", as_of=as_of)["outputs"][0]["shelf_day"] for as_of in instants]
    assert days == ["2027-03-02", "2027-03-03"]


def test_sku_that_nobody_planned_is_in_the_run_from_its_finish_on(replay, run):
    finish(replay, run, good={BLACK: 9, "PLA-BLACK-250": 3})
    seen = [get(replay, f"/runs/{run}/", as_of=as_of)["outputs"] for as_of in (START, "2027-03-01T12:00:00+01:00")]
    assert [[row["sku"] for row in rows] for rows in seen] == [[BLACK], [BLACK, "PLA-BLACK-250"]]
