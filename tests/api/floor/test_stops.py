"""Stops of a run over the API."""

from __future__ import annotations

from tests.api.calls import get, post
from tests.api.floor.reports import START

AT, ON = "2027-03-01T09:00:00+01:00", "2027-03-01T09:20:00+01:00"


def test_stop_and_its_end_are_read_back(plant, replay, run):
    post(replay, f"/runs/{run}/start/", 200, occurred_at=START)
    standing = post(replay, f"/runs/{run}/stops/", 201, reason="screen", note="blocked", occurred_at=AT)
    stop = {"reason": "screen", "note": "blocked", "stopped_at": "2027-03-01T08:00:00Z", "went_on_at": None}
    assert standing == {"run": run, "stops": [stop]}
    gone_on = post(replay, f"/runs/{run}/go-on/", 200, occurred_at=ON)
    assert gone_on["stops"] == [stop | {"went_on_at": "2027-03-01T08:20:00Z"}]
    assert get(replay, f"/runs/{run}/stops/", as_of=AT)["stops"] == [stop]


def test_second_stop_of_a_run_that_stands_is_a_conflict(plant, replay, run):
    post(replay, f"/runs/{run}/start/", 200, occurred_at=START)
    post(replay, f"/runs/{run}/stops/", 201, reason="crew", occurred_at=AT)
    assert post(replay, f"/runs/{run}/stops/", 409, reason="crew", occurred_at=ON)["code"] == "run_stopped"


def test_unknown_reason_is_refused_with_its_place(plant, replay, run):
    problem = post(replay, f"/runs/{run}/stops/", 400, reason="lunch", occurred_at=AT)
    assert problem["errors"][0]["pointer"] == "#/reason"
