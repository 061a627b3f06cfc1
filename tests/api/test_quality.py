"""Measured runs over the API, on the tiny plant: 1.75 +- 0.03 mm, spools of 1000 g on 200 g."""

from __future__ import annotations

import pytest

from inventory.models import Lot
from tests.api.calls import get, post
from tests.inventory.books.floor import KG, finished
from tests.inventory.books.reading import lying
from tests.inventory.builders import put_in_store

AT = "2027-03-01T15:00:00+01:00"
INSIDE, OUTSIDE = [{"x_mm": 1.75}, {"x_mm": 1.76, "y_mm": 1.74}], [{"x_mm": 1.75, "y_mm": 1.79}]


@pytest.fixture
def run(plant):
    put_in_store(plant.black.material.resin_item, "200", lot_code="R1")
    return finished().run.code


def measure(client, run, status=201, **change):
    return post(
        client, f"/runs/{run}/diameters/", status, **{"source": "hand", "readings": INSIDE, "occurred_at": AT} | change
    )


def weigh(client, run, status=201, **change):
    return post(
        client, f"/lots/{run}-{KG}/weighings/", status, **{"gross_g": [1203, 1201.5], "occurred_at": AT} | change
    )


def test_measured_run_answers_what_the_readings_say(replay, run):
    answer = measure(replay, run)
    assert (answer["run"], answer["held_lots"]) == (run, [])
    said = answer["diameter"]
    # 1.75 on one axis; 1.75 as the mean of two, which differ by 0.02.
    assert (said["readings"], said["mean_mm"], said["outside_readings"]) == (2, 1.75, 0)
    assert said["largest_ovality_mm"] == pytest.approx(0.02)
    assert (said["chart"], said["within"]) == (None, None)


def test_readings_of_a_gauge_that_are_posted_again_clash_and_count_once(replay, run):
    readings = INSIDE * 5
    measure(replay, run, readings=readings, source="gauge", document="gauge-1.csv")
    again = measure(replay, run, 409, readings=readings, source="gauge", occurred_at="2027-03-01T15:01:00+01:00")
    assert (again["code"], "gauge-1.csv" in again["detail"]) == ("readings_known", True)
    assert get(replay, f"/runs/{run}/quality/")["diameter"]["readings"] == len(readings)


def test_run_outside_its_tolerance_is_on_hold_in_the_answer(plant, replay, run):
    answer = measure(replay, run, readings=OUTSIDE)
    assert sorted(answer["held_lots"]) == sorted(lot["lot"] for lot in answer["lots"])
    assert all(lot["is_held"] for lot in answer["lots"])
    assert lying(plant.black_1kg, "hold") == 38


def test_quality_is_read_with_another_subgroup_size(replay, run):
    measure(replay, run, readings=[{"x_mm": 1.74}, {"x_mm": 1.76}] * 3)
    chart = get(replay, f"/runs/{run}/quality/", subgroup_size=3)["diameter"]["chart"]
    assert (chart["subgroup_size"], len(chart["points"])) == (3, 2)
    assert chart["mean_range_mm"] == pytest.approx(0.02)


def test_light_spools_are_on_hold_in_the_answer(replay, run):
    answer = weigh(replay, run, gross_g=[1160])
    assert (answer["is_held"], answer["net_mass"]["passes"], answer["net_mass"]["far_short"]) == (True, False, 1)


def test_full_spools_are_not(replay, run):
    answer = weigh(replay, run)
    assert (answer["is_held"], answer["net_mass"]["mean_net_g"]) == (False, 1002.25)


@pytest.mark.parametrize(
    ("change", "status", "pointer"),
    [
        ({"readings": []}, 400, "#/readings"),
        ({"readings": [{"x_mm": "wide"}]}, 400, "#/readings/0/x_mm"),
        ({"readings": [{"x_mm": 1.75}, {"x_mm": 0}]}, 422, "#/readings/1/x_mm"),
        ({"source": "eye"}, 400, "#/source"),
        ({"occurred_at": "2027-03-01T07:00:00+01:00"}, 422, "#/occurred_at"),
    ],
)
def test_bad_readings_are_named(replay, run, change, status, pointer):
    assert [error["pointer"] for error in measure(replay, run, status, **change)["errors"]] == [pointer]


def test_reading_is_kept_to_a_tenth_of_a_micrometre(replay, run):
    assert measure(replay, run, readings=[{"x_mm": 1.75034}])["diameter"]["mean_mm"] == 1.7503


@pytest.mark.parametrize("size", [1, 11])
def test_subgroup_size_without_constants_is_refused(replay, run, size):
    [error] = get(replay, f"/runs/{run}/quality/", 400, subgroup_size=size)["errors"]
    assert error["parameter"] == "subgroup_size"


def test_unknown_run_and_lot_are_not_found(replay, run):
    assert measure(replay, "R9", 404)["code"] == "run_not_found"
    assert get(replay, "/runs/R9/quality/", 404)["code"] == "run_not_found"
    assert weigh(replay, "R9", 404)["code"] == "not_found"


def test_only_the_floor_measures(client_with, run):
    planner = client_with("plan")
    measure(planner, run, 403)
    weigh(planner, run, 403)
    get(planner, f"/runs/{run}/quality/")
    assert not Lot.objects.filter(is_held=True).exists()
