"""Another order of runs over the API: tried, set once under a key, and refused with a pointer."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from inventory.models import RunPlan
from inventory.plant_files.load import load_plant
from stockplan.planner.models import MakeList, PlannerInstruction
from tests.api.calls import order, post
from tests.inventory.plant_dir import write_small_plant

ORDER = "/make-lists/order/"
SOON = "2027-03-01T08:10:00Z"


@pytest.fixture
def line(db, tmp_path, replay):
    """A line with two runs of a list that wait, and its `seen`."""
    load_plant(write_small_plant(tmp_path / "plant"), as_of=datetime(2027, 3, 1, 7, tzinfo=UTC))
    for number, sku in enumerate(("PLA-SNOW-175-1000", "PLA-STONE-175-1000")):
        order(replay, f"200{number}", at="2027-03-01T07:30:00Z", channel="SHOP", lines=[{"sku": sku, "quantity": 60}])
    post(replay, "/make-lists/", as_of="2027-03-01T08:00:00Z", days=2)
    return post(replay, ORDER, 200, moves=[], occurred_at=SOON)


def turned(line):
    [row] = line["lines"]
    assert len(row["runs"]) == 2
    return [{"run": row["runs"][1], "line": row["line"], "place": 1}]


def test_no_moves_give_the_order_that_stands(line):
    assert (line["price"], line["runs"], line["promises"], line["is_set"]) == (0, [], [], False)


def test_order_is_tried_and_not_written(line, replay):
    tried = post(replay, ORDER, 200, moves=turned(line), occurred_at=SOON)
    assert [row["runs"] for row in tried["lines"]] == [list(reversed(line["lines"][0]["runs"]))]
    assert tried["price"] == pytest.approx(tried["misses_after"] - tried["misses_before"])
    assert (tried["is_set"], tried["seen"], PlannerInstruction.objects.count()) == (False, line["seen"], 0)


def test_order_of_listed_runs_is_set_once_under_a_key(line, replay):
    body = {"moves": turned(line), "set": True, "seen": line["seen"], "occurred_at": SOON}
    key = {"HTTP_IDEMPOTENCY_KEY": "order-1"}
    first, again = (replay.post(f"/api/v1{ORDER}", body, format="json", **key) for _ in range(2))
    assert (first.status_code, first.json()["is_set"], again.json()) == (200, True, first.json())
    assert list(PlannerInstruction.objects.values_list("place", flat=True)) == [1, 2]
    assert post(replay, ORDER, 409, **body)["code"] == "order_moved"


def test_order_of_released_runs_is_set(line, replay):
    post(replay, f"/make-lists/{MakeList.objects.get().pk}/release/", 200, occurred_at=SOON)
    stands = post(replay, ORDER, 200, moves=[], occurred_at=SOON)
    done = post(replay, ORDER, 200, moves=turned(stands), set=True, seen=stands["seen"], occurred_at=SOON)
    assert {run["is_released"] for run in done["runs"]} == {True}
    assert RunPlan.objects.count() == 4


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (422, {"place": 0}, "#/moves/0/place"),
        (422, {"place": 3}, "#/moves/0/place"),
        (400, {"place": "2"}, "#/moves/0/place"),
        (422, {"line": "L9"}, "#/moves/0/line"),
        (422, {"run": "R999999"}, "#/moves/0"),
        (400, {"run": "no run"}, "#/moves/0/run"),
        (400, {"spools": 5}, "#/moves/0/spools"),
    ],
)
def test_move_that_cannot_be_points_at_what_is_wrong(line, replay, status, change, pointer):
    problem = post(replay, ORDER, status, moves=[turned(line)[0] | change], occurred_at=SOON)
    assert [error["pointer"] for error in problem["errors"]] == [pointer]


def test_two_runs_with_one_place_and_no_seen_are_refused(line, replay):
    [first, second] = line["lines"][0]["runs"]
    both = [{"run": run, "line": line["lines"][0]["line"], "place": 2} for run in (first, second)]
    assert post(replay, ORDER, 422, moves=both)["errors"][0]["pointer"] == "#/moves/1/place"
    assert post(replay, ORDER, 422, moves=turned(line), set=True)["errors"][0]["pointer"] == "#/seen"
    assert not PlannerInstruction.objects.exists()


def test_order_needs_the_scope_plan(line, client_with):
    assert post(client_with("floor"), ORDER, 403, moves=[])["code"] == "missing_scope"
