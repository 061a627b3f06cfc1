"""Oven loads and packing over the API, on the tiny plant. Times by hand beside each check.

Tiny plant: spools of PLA dry 6 h, one oven of 60 places at 50 degrees, packing from 06:00, concentrate 2 %.
"""

from __future__ import annotations

import pytest

from inventory.models import Movement, ShelfStock
from tests.api.calls import get, order, post
from tests.api.floor.reports import BLACK, PACK, START, finish, load


def test_oven_load_says_when_it_is_dry(plant, replay, run):
    finish(replay, run)
    answer = load(replay, run)
    assert (answer["oven"], answer["temperature_c"], answer["hours"]) == ("O1", 50, 6.0)
    assert answer["ready_at"] == "2027-03-01T22:00:00Z"  # 17:00+01:00 and 6 h
    assert [(row["item"], row["quantity"]) for row in answer["spools"]] == [(BLACK, 10.0)]


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (422, {"oven": "O9"}, "#/oven"),
        (422, {"temperature_c": 56}, "#/spools/0"),  # the material allows 45 to 55 degrees
        (422, {"hours": 5}, "#/spools/0"),
        (422, {"spools": [{"source": "R999999", "sku": BLACK, "quantity": 1}]}, "#/spools/0/source"),
        (422, {"spools": [{"sku": "NO-SUCH", "quantity": 1}]}, "#/spools"),
        (400, {"spools": [{"sku": BLACK, "quantity": 0}]}, "#/spools/0/quantity"),
        (400, {"spools": []}, "#/spools"),
        (400, {"fan": 3}, "#/fan"),
    ],
)
def test_oven_load_that_breaks_a_rule_names_the_field(replay, run, status, change, pointer):
    finish(replay, run)
    problem = load(replay, run, status, **change)
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert not Movement.objects.filter(kind="oven_load").exists()


def test_packed_spools_lie_on_the_shelf_and_serve_who_waits(plant, replay, run):
    placed = order(replay, "A-1", at=START)
    finish(replay, run)
    load(replay, run)
    answer = post(replay, "/pack/", spools=[{"source": run, "sku": BLACK, "quantity": 10}], occurred_at=PACK)
    assert {(row["item"], row["to_place"]) for row in answer["lines"]} >= {(BLACK, "SHELF")}
    shelf = ShelfStock.objects.get(sku=plant.black_1kg)
    assert (shelf.on_shelf, shelf.allocated) == (10, 3)
    assert get(replay, f"/orders/{placed['id']}/")["lines"][0]["from_shelf"] == 3


def test_spools_that_are_still_drying_cannot_be_packed(plant, replay, run):
    finish(replay, run)
    load(replay, run)
    body = {"spools": [{"sku": BLACK, "quantity": 10}], "occurred_at": "2027-03-01T22:59:00+01:00"}
    problem = post(replay, "/pack/", 409, **body)
    assert problem["code"] == "not_enough_stock"
    assert not Movement.objects.filter(kind="pack").exists()
