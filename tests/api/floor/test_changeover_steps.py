"""Steps of a changeover over the API."""

from __future__ import annotations

from inventory.models import Run
from tests.api.calls import get, post
from tests.api.floor.reports import START

AT, LATER = "2027-03-01T08:10:00+01:00", "2027-03-01T08:20:00+01:00"


def ticks(answer, step):
    return next(row for row in answer["steps"] if row["step"] == step)


def test_step_is_ticked_once_taken_back_and_read_back(plant, replay, run):
    post(replay, f"/runs/{run}/start/", 200, occurred_at=START)
    address = f"/runs/{run}/changeover-steps/"
    for _ in range(2):
        ticked = post(replay, address, 200, step="purge", is_done=True, occurred_at=AT)
    row = ticks(ticked, "purge")
    assert (row["is_done"], len(row["ticks"])) == (True, 1)
    assert (row["ticks"][0]["occurred_at"], row["ticks"][0]["by"]) == ("2027-03-01T07:10:00Z", "integration.test")
    back = ticks(post(replay, address, 200, step="purge", is_done=False, occurred_at=LATER), "purge")
    assert (back["is_done"], [one["is_done"] for one in back["ticks"]]) == (False, [True, False])
    assert ticks(get(replay, address, as_of=AT), "purge") == row


def test_step_that_the_changeover_does_not_have_is_a_conflict(plant, replay, run):
    Run.objects.update(changeover_from=plant.black)
    problem = post(replay, f"/runs/{run}/changeover-steps/", 409, step="setting", is_done=True, occurred_at=START)
    assert problem["code"] == "step_not_needed"


def test_unknown_step_is_refused_with_its_place(plant, replay, run):
    problem = post(replay, f"/runs/{run}/changeover-steps/", 400, step="lunch", is_done=True, occurred_at=AT)
    assert problem["errors"][0]["pointer"] == "#/step"
