"""Make lists over the API, on the small plant. What belongs on a list is the planner's tests' business."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

import pytest

from inventory.models import Run
from inventory.plant_files.load import load_plant
from stockplan.planner.models import MakeList
from tests.api.calls import get, order, post
from tests.inventory.plant_dir import write_small_plant

MORNING = "2027-03-01T08:00:00Z"
LATER = "2027-03-01T08:30:00Z"
SNOW = "PLA-SNOW-175-1000"


@pytest.fixture
def made(db, tmp_path, replay):
    """A list for two ship days, with an order for 30 spools of snow that nothing covers."""
    load_plant(write_small_plant(tmp_path / "plant"), as_of=datetime(2027, 3, 1, 7, tzinfo=UTC))
    order(replay, "2001", at="2027-03-01T07:30:00Z", channel="SHOP", lines=[{"sku": SNOW, "quantity": 30}])
    return post(replay, "/make-lists/", as_of=MORNING, days=2)


def test_list_is_ranked_from_one_and_names_the_late_order_s_filament(made):
    assert [run["rank"] for run in made["runs"]] == list(range(1, len(made["runs"]) + 1))
    assert "PLA-SNOW-175" in {run["filament"] for run in made["runs"]}
    assert made["misses_with"] < made["misses_without"]


def test_list_is_read_again_by_id_and_as_the_latest(made, replay):
    assert get(replay, f"/make-lists/{made['id']}/") == made
    assert get(replay, "/make-lists/latest/") == made


def test_list_did_not_exist_before_its_instant(made, replay):
    for path in (f"/make-lists/{made['id']}/", "/make-lists/latest/"):
        assert get(replay, path, 404, as_of="2027-03-01T07:59:00Z")["code"] == "make_list_not_found"


def test_released_list_becomes_runs_that_the_order_is_promised(made, replay):
    released = post(replay, f"/make-lists/{made['id']}/release/", 200, occurred_at=LATER)
    assert released["state"] == "released"
    codes = {run["run"] for run in released["runs"] if not run["is_blocked"]}
    assert codes == set(Run.objects.values_list("code", flat=True))
    waiting = get(replay, "/orders/", reference="2001")["results"][0]
    assert {row["run"] for row in waiting["lines"][0]["from_supply"]} <= codes
    assert waiting["lines"][0]["from_supply"] != []


def test_one_run_is_released_once(made, replay):
    path = f"/make-lists/{made['id']}/runs/1/release/"
    assert post(replay, path, occurred_at=LATER)["state"] == "released"
    assert post(replay, path, 409, occurred_at=LATER)["status"] == 409
    assert Run.objects.count() == 1


def test_unknown_list_and_rank_are_not_found(made, replay):
    unknown = (
        get(replay, f"/make-lists/{uuid4()}/", 404),
        post(replay, f"/make-lists/{uuid4()}/release/", 404),
        post(replay, f"/make-lists/{made['id']}/runs/999/release/", 404),
    )
    assert {problem["code"] for problem in unknown} == {"make_list_not_found"}


@pytest.mark.parametrize(
    ("status", "body", "pointer"),
    [
        (400, {"days": 0}, "#/days"),
        (400, {"days": 41}, "#/days"),
        (400, {"days": 61}, "#/days"),
        (400, {"days": "5"}, "#/days"),
        (400, {"as_of": "monday"}, "#/as_of"),
        (422, {"as_of": "1999-12-31T23:59:59Z"}, "#/as_of"),
        (400, {"week": "2027-W09"}, "#/week"),
    ],
)
def test_list_that_cannot_be_asked_for_names_the_field(plant, replay, status, body, pointer):
    problem = post(replay, "/make-lists/", status, **body)
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert not MakeList.objects.exists()


def test_list_needs_the_scope_plan(plant, client_with):
    assert post(client_with("floor"), "/make-lists/", 403)["code"] == "missing_scope"
    assert get(client_with("floor"), "/make-lists/latest/", 404)["code"] == "make_list_not_found"


def test_what_if_answers_with_the_price_and_the_runs_that_differ(made, replay):
    answer = post(replay, "/make-lists/what-if/", 200, changes=[{"change": "forbid", "filament": "PLA-SNOW-175"}])
    assert answer["misses_before"] == made["misses_with"]
    assert answer["price"] == pytest.approx(answer["misses_after"] - answer["misses_before"])
    assert answer["price"] > 0
    assert "PLA-SNOW-175" not in {run["filament"] for run in answer["runs"]}
    assert {row["became"] for row in answer["differences"] if row["filament"] == "PLA-SNOW-175"} == {"dropped"}
    assert get(replay, "/make-lists/latest/") == made


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"change": "line_down", "line": "L9", "day": "2027-03-01"}, "#/changes/0/line"),
        ({"change": "line_down", "line": "L1"}, "#/changes/0/change"),
        ({"change": "forbid", "filament": "PLA-SNOW-175", "line": "L1"}, "#/changes/0/line"),
        ({"change": "rush_order", "sku": SNOW, "spools": 60, "day": "2027-05-01"}, "#/changes/0/day"),
    ],
)
def test_what_if_that_cannot_be_points_at_what_is_wrong(made, replay, change, pointer):
    problem = post(replay, "/make-lists/what-if/", 422, changes=[change])
    assert (problem["code"], problem["errors"][0]["pointer"]) == ("what_if", pointer)


def test_what_if_needs_a_list_and_a_change(db, plant, replay):
    change = {"change": "forbid", "filament": "PLA-SNOW-175"}
    assert post(replay, "/make-lists/what-if/", 404, changes=[change])["code"] == "make_list_not_found"
    assert post(replay, "/make-lists/what-if/", 400, changes=[])["errors"][0]["pointer"] == "#/changes"
