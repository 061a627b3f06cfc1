"""Reports of runs over the API, on the tiny plant. Masses and times by hand beside each check.

Tiny plant: spools of PLA dry 6 h, one oven of 60 places at 50 degrees, packing from 06:00, concentrate 2 %.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Balance, Line, Movement, Run
from tests.api.calls import get, order, post
from tests.api.floor.reports import BLACK, PACK, START, finish, load
from tests.inventory.builders import local


def test_run_is_read_by_code_and_by_id(plant, replay, run):
    by_code = get(replay, f"/runs/{run}/")
    assert (by_code["run"], by_code["state"], by_code["outputs"][0]["awaited"]) == (run, "released", 10)
    assert get(replay, f"/runs/{by_code['id']}/") == by_code


def test_runs_are_listed_and_filtered(plant, replay, run):
    assert [row["run"] for row in get(replay, "/runs/", state="released", line="L1")["results"]] == [run]
    assert get(replay, "/runs/", state="finished")["results"] == []
    assert get(replay, "/runs/", filament="PETG-NATURAL-1.75")["results"] == []


def test_started_run_fills_its_line(plant, replay, run):
    assert post(replay, f"/runs/{run}/start/", 200, occurred_at=START)["state"] == "started"
    assert Line.objects.get(code="L1").holds == plant.black


def test_start_with_resin_that_was_kept_too_long_says_what_to_do(plant, replay, run):
    Run.objects.update(drying_from=local("2027-02-28 03:59"))
    problem = post(replay, f"/runs/{run}/start/", 409, occurred_at=START)
    assert problem["code"] == "resin_kept_too_long"
    assert "Dry it again" in problem["detail"]
    again = post(replay, f"/runs/{run}/start/", 200, occurred_at=START, drying_from="2027-03-01T04:00:00+01:00")
    assert (again["state"], again["drying_from"]) == ("started", "2027-03-01T03:00:00Z")


@pytest.mark.parametrize("planned_end", ["9999-12-31T23:59:59Z", "2100-01-01T00:00:00Z"])
def test_run_cannot_move_beyond_any_calendar(replay, run, planned_end):
    times = {"planned_start": "2027-03-01T09:00:00+01:00", "planned_end": planned_end}
    problem = post(replay, f"/runs/{run}/reschedule/", 422, **times)
    assert problem["errors"][0]["pointer"] == "#/planned_end"


@pytest.mark.parametrize("step", ["start", "cancel"])
def test_run_does_nothing_before_its_release(replay, run, step):
    problem = post(replay, f"/runs/{run}/{step}/", 422, occurred_at="2027-03-01T06:59:59+01:00")
    assert problem["errors"][0]["pointer"] == "#/occurred_at"
    assert Run.objects.get().state == "released"


def test_finished_run_has_its_masses(plant, replay, run):
    answer = finish(replay, run)
    # 10 good and 1 scrapped spool of 1 kg and 0.5 kg purged: 11.5 kg out, and the same drawn from the store.
    assert (answer["state"], answer["mass_out_kg"], answer["mass_in_kg"]) == ("finished", 11.5, 11.5)
    assert answer["is_mass_flagged"] is False
    assert answer["outputs"][0]["good"] == 10
    resin = Balance.objects.get(item__code="RESIN-PLA", place__kind="resin_store").quantity
    assert resin == Decimal("488.730")  # 500 - 11.5 x 0.98


def test_run_whose_weighed_resin_does_not_come_out_is_flagged(plant, replay, run):
    answer = finish(replay, run, resin_kg=13, concentrate_kg=0.26)
    assert (answer["mass_in_kg"], answer["mass_out_kg"], answer["is_mass_flagged"]) == (13.26, 11.5, True)


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (400, {"resin_kg": -1}, "#/resin_kg"),
        (400, {"concentrate_kg": "0.2"}, "#/concentrate_kg"),
        (422, {"good": {"NO-SUCH": 1}}, "#/good"),
        (422, {"good": {"PETG-NAT-1000": 1}}, "#/good/PETG-NAT-1000"),
        (400, {"good": {BLACK: -1}}, "#/good/PLA-BLACK-1000"),
        (400, {"good": {BLACK: 1.5}}, "#/good/PLA-BLACK-1000"),
        (400, {"good": [10]}, "#/good"),
        (400, {"purge_kg": -1}, "#/purge_kg"),
        (400, {"purge_kg": "1"}, "#/purge_kg"),
        (422, {"real_minutes": 0}, "#/real_minutes"),
        (422, {"occurred_at": "2027-03-01T07:59:00+01:00"}, "#/occurred_at"),
        (400, {"good_spools": 1}, "#/good_spools"),
    ],
)
def test_finish_that_breaks_a_rule_names_the_field_and_changes_nothing(replay, run, status, change, pointer):
    problem = finish(replay, run, status, **change)
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert Run.objects.get().state == "started"
    assert not Movement.objects.filter(kind="run_output").exists()


def test_run_that_has_not_started_cannot_finish(plant, replay, run):
    body = {"good": {BLACK: 1}, "real_minutes": 1, "purge_kg": 0}
    assert post(replay, f"/runs/{run}/finish/", 409, **body)["status"] == 409


@pytest.mark.parametrize("action", ["start", "cancel"])
def test_action_on_an_unknown_run_is_not_found(plant, replay, action):
    assert post(replay, f"/runs/R999999/{action}/", 404)["code"] == "run_not_found"


def test_cancelled_run_takes_its_promise_back(plant, replay, run):
    placed = order(replay, "A-1", at=START)
    # Wound on Monday, dried overnight, packed on Tuesday morning.
    assert placed["ship_day"] == "2027-03-02"
    answer = post(replay, f"/runs/{run}/cancel/", 200, occurred_at=START)
    assert (answer["state"], answer["outputs"][0]["awaited"]) == ("cancelled", 0)
    assert get(replay, f"/orders/{placed['id']}/", as_of=START)["lines"][0]["unpromised"] == 3


def test_rescheduled_run_moves_its_promise(plant, replay, run):
    placed = order(replay, "A-1", at=START)
    times = {"planned_start": "2027-03-03T08:00:00+01:00", "planned_end": "2027-03-03T12:00:00+01:00"}
    answer = post(replay, f"/runs/{run}/reschedule/", 200, occurred_at=START, **times)
    assert answer["outputs"][0]["shelf_day"] == "2027-03-04"
    assert get(replay, f"/orders/{placed['id']}/")["ship_day"] == "2027-03-04"


def test_run_cannot_end_before_it_starts(plant, replay, run):
    times = {"planned_start": "2027-03-03T08:00:00+01:00", "planned_end": "2027-03-03T07:00:00+01:00"}
    problem = post(replay, f"/runs/{run}/reschedule/", 422, occurred_at=START, **times)
    assert problem["errors"][0]["pointer"] == "#/planned_end"


def test_run_is_read_as_of_an_instant_before_its_finish(plant, replay, run):
    finish(replay, run)
    load(replay, run)
    post(replay, "/pack/", spools=[{"sku": BLACK, "quantity": 10}], occurred_at=PACK)
    moments = {"2027-03-01T07:30:00+01:00": ("released", None, 10), "2027-03-01T09:00:00+01:00": ("started", None, 10)}
    moments |= {"2027-03-01T18:00:00+01:00": ("finished", 10, 10), "2027-03-02T08:00:00+01:00": ("finished", 10, 0)}
    for as_of, seen in moments.items():
        row = get(replay, f"/runs/{run}/", as_of=as_of)
        assert (row["state"], row["outputs"][0]["good"], row["outputs"][0]["awaited"]) == seen
    assert get(replay, f"/runs/{run}/", 404, as_of="2027-03-01T06:59:00+01:00")["code"] == "run_not_found"
    assert get(replay, "/runs/", as_of="2027-03-01T06:59:00+01:00")["results"] == []
    assert [row["run"] for row in get(replay, "/runs/", as_of=START, state="started")["results"]] == [run]


def test_run_is_read_as_of_with_the_promises_and_the_cancellation_known_then(plant, replay, run):
    order(replay, "A-1", at="2027-03-01T08:30:00+01:00")
    post(replay, f"/runs/{run}/cancel/", 200, occurred_at="2027-03-01T09:00:00+01:00")
    seen = []
    for hour in ("08:15", "08:45", "09:15"):
        row = get(replay, f"/runs/{run}/", as_of=f"2027-03-01T{hour}:00+01:00")
        seen.append((row["state"], row["outputs"][0]["awaited"], row["outputs"][0]["allocated"]))
    assert seen == [("released", 10, 0), ("released", 10, 3), ("cancelled", 0, 0)]
